"""Standings from a snapshot: an event over all its heats, a division over all its events."""
