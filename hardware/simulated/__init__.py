"""A kiln that isn't there: emulated pins and chips beneath the shipped drivers. Runs only when asked for by name."""

from hardware.simulated.rig import SimulatedRig, open_rig

__all__ = ["SimulatedRig", "open_rig"]
