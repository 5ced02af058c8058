"""The call of a heat, from a snapshot to its frame, in steps that can be done apart."""
