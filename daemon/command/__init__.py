"""The command line, and what runs around the scan: tend a kiln, rehearse a firing, with a simulated attendant.

Here live the `stokehand` command, the runner's loop and the rehearsal. Here may not live: anything that a scan decides.
Start with `cli.py`.
"""
