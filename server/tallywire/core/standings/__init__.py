"""Standings from the book: an event over all its heats, a division over all its events."""
