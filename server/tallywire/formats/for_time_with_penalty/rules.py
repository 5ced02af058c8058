"""The rule of the penalty."""

from __future__ import annotations

from dataclasses import dataclass

from tallywire.core.formats.own_rules import own_rules
from tallywire.core.model.workout import Workout


@dataclass(frozen=True, slots=True, kw_only=True)
class CapPenalty:
    """Each scored rep left at the cap adds `each_ms` to it."""

    each_ms: int


def rules_of(workout: Workout) -> CapPenalty:
    """Give the rules of the penalty."""
    return own_rules(workout, CapPenalty)
