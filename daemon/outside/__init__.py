"""The outside: the channel to the page, the status that goes out on it, systemd, and the rig that is named.

Here live edges, each of which does one thing to the world and reports what came back. Here may not live: a decision.
Start with `channel.py`.
"""
