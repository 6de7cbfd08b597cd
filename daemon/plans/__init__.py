"""Firing plans: the files that a potter writes, cones, and heat work.

Here live the plan's reader, the published cone tables and what heat does to clay, with the plans that are shipped. Here
may not live: where a firing is on its plan (`daemon/course`), or what is done about it. Start with `plan.py`.
"""
