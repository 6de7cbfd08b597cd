"""What is known of the fire: what burns, the air for it, the heat it makes, and whether it burns at all.

Here live estimates and the physics they stand on. Nothing here decides: no state of the firing, no output set, no
clock, pin or file. Start with `estimate.py`.
"""
