"""Tests of `daemon/command`."""
