"""Hypothesis has no deadline here: a slow machine is no finding about the kiln."""

from hypothesis import settings

settings.register_profile("kiln", deadline=None)
settings.load_profile("kiln")
