"""The firing's course: its states and transitions, what a person may say in each, and who must be there.

Here live the map of states and everything that moves along it. Here may not live: how feed or air are found
(`daemon/control`), what stops the feed (`daemon/interlocks`), a clock, a pin, a file. Start with `state.py`.
"""
