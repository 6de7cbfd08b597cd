"""Tests of `daemon/plans`."""
