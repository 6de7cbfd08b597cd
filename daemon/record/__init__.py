"""The record: one SQLite file, what is kept in it, and how the daemon comes up from what it finds there.

Here live the writer and its thread, and the start. Here may not live: anything that a scan has to wait for. Start with
`journal.py`.
"""
