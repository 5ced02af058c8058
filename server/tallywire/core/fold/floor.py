"""The floor: where one heat at a time is, the one that was called to it or started last."""

FLOOR = "floor"
"""Stands in the place of a heat's id for whichever heat is on the floor."""
