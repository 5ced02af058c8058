"""The pure core: no clock, no I/O, no randomness of its own."""
