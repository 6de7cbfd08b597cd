"""Benchmarks: run by hand, never as timed tests. Each is `python -m tests.bench.NAME`."""
