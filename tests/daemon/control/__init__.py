"""Tests of `daemon/control`."""
