"""What is needed: exact answers about an event inside an overall standing."""

from tallywire.core.needed.answers import Need, leeway, margin, needs
from tallywire.core.needed.race import Contender, Race, levels_of
from tallywire.core.needed.swings import Arrow, Swing, swings

__all__ = [
    "Arrow",
    "Contender",
    "Need",
    "Race",
    "Swing",
    "leeway",
    "levels_of",
    "margin",
    "needs",
    "swings",
]
