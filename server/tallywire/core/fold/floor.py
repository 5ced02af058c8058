"""The floor: it holds one heat at a time, the last one called to it or started."""

FLOOR = "floor"
"""Used instead of a heat's id to mean whichever heat is on the floor."""
