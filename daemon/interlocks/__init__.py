"""Interlocks: every condition that stops the feed, each a small pure function and a row of one table.

Here live what is looked for, the limits' words, and the verdict. Here may not live: what a firing would like
(`daemon/course`, `daemon/control`), a clock, a pin, a file. Start with `table.py`.
"""
