"""What is held: the setpoint, the feed and its pulse, the air and the draught it takes.

Here live pure functions from what is known and wanted to what is driven. Here may not live: a state of the firing (that
is `daemon/course`), what is known of the fire (`daemon/fire`), a clock, a pin, a file. Start with `feed.py`.
"""
