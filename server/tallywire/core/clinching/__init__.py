"""What is needed: exact answers about an event inside an overall standing."""

from tallywire.core.clinching.answers import leads_for_certain, leeway, margin, needs
from tallywire.core.clinching.need import Need
from tallywire.core.clinching.race import NO_PLACE, Contender, NotWorkedOut, Race, levels_of
from tallywire.core.clinching.swings import Swing, event_swings, race_scores, swings
from tallywire.core.clinching.worth import never_rises

__all__ = [
    "NO_PLACE",
    "Contender",
    "Need",
    "NotWorkedOut",
    "Race",
    "Swing",
    "event_swings",
    "leads_for_certain",
    "leeway",
    "levels_of",
    "margin",
    "needs",
    "never_rises",
    "race_scores",
    "swings",
]
