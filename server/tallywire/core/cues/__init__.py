"""Cues: short factual lines, ranked by how much they change the story."""

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.desk import CueDesk, cues
from tallywire.core.cues.format_cues import every_kind
from tallywire.core.cues.observation import Observation, OverallNote
from tallywire.core.cues.wording import Wording, say, script_lines

__all__ = [
    "Cue",
    "CueDesk",
    "CueRules",
    "Kind",
    "Observation",
    "OverallNote",
    "Wording",
    "cues",
    "every_kind",
    "say",
    "script_lines",
]
