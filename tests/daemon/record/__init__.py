"""Tests of `daemon/record`."""
