"""Tests of `daemon/fire`."""
