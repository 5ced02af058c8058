"""The rules of lifts."""

from __future__ import annotations

from dataclasses import dataclass

from tallywire.core.formats.own_rules import own_rules
from tallywire.core.model.workout import Workout


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftingRules:
    """Heaviest good lift: loads in thousandths of `unit` (kg or lb); `attempts` is None for as many as time allows.

    `plates` lists the disc masses at hand, heaviest first, any number of each.
    """

    unit: str
    bar_milli: int
    collar_milli: int
    plates_milli: tuple[int, ...]
    attempts: int | None


def rules_of(workout: Workout) -> LiftingRules:
    """Give the rules of the lifts."""
    return own_rules(workout, LiftingRules)
