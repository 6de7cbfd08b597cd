"""The simulated kiln's physics, each part against a source outside the project."""
