"""Outlets: frames as flat rows and as CSV, for graphics engines, stats desks and web sites."""
