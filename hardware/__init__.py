"""The kiln's hardware: the port, the drivers behind it, and a simulated world beneath the same drivers."""
