"""What is needed: exact answers about an event inside an overall standing."""

from tallywire.core.needed.answers import Need, leeway, margin, needs
from tallywire.core.needed.race import Contender, NotWorkedOut, Race, levels_of
from tallywire.core.needed.swings import Arrow, Swing, event_swings, swings

__all__ = [
    "Arrow",
    "Contender",
    "Need",
    "NotWorkedOut",
    "Race",
    "Swing",
    "event_swings",
    "leeway",
    "levels_of",
    "margin",
    "needs",
    "swings",
]
