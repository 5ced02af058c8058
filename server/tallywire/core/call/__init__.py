"""The call of a heat: how a snapshot becomes its frame, in steps that can run in different threads."""
