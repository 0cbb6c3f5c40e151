"""How fast a sweep is, what it grows with, and what the host needs for it; by simulated time but for the host's own."""
