"""Tallywire: live scoring and on-air graphics data for functional-fitness heats."""
