"""Tests of `daemon/interlocks`."""
