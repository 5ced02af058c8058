"""The helper: what takes longer than a tap may is worked out there, in a process of its own or in a thread."""
