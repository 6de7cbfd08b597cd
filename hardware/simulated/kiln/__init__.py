"""A small pellet-fired kiln as physics: auger, fire bed, air, gas, chamber, wall and probes, all in simulated time."""
