"""What the daemon judges and decides, as sentences about the kiln."""
