"""Tests of `daemon/course`."""
