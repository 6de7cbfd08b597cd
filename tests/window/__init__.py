"""The window between daemon and page: named scenes of a kiln, and the bytes that both sides are held to."""
