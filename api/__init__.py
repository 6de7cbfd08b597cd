"""The window onto the kiln: a small web server with one page, in a process of its own.

It shows what the daemon says and passes on what a person asks. It decides nothing, drives nothing, and the kiln fires
on just the same when it is absent or dead.
"""
