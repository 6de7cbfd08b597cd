"""Tests of `daemon/outside`."""
