"""The rules of a ladder."""

from __future__ import annotations

from dataclasses import dataclass

from tallywire.core.formats.own_rules import own_rules
from tallywire.core.model.workout import Workout


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderRules:
    """Rising bars, each a station of the plan, with a window of time for each; out on a miss."""

    window_ms: int


def rules_of(workout: Workout) -> LadderRules:
    """Give the rules of the bars."""
    return own_rules(workout, LadderRules)
