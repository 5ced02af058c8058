"""The rules of intervals."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from tallywire.core.formats.own_rules import own_rules
from tallywire.core.model.workout import Workout


class Counts(StrEnum):
    """Which of several pieces count."""

    SUM = "sum"
    SLOWEST = "slowest"
    BEST = "best"


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalRules:
    """`pieces` windows of `work_ms` with `rest_ms` between.

    `timed` pieces are fixed work for time; in others the most reps count.
    """

    pieces: int
    work_ms: int
    rest_ms: int
    counts: Counts
    timed: bool

    def start_ms(self, number: int) -> int:
        """When piece `number` (from 0) begins on the heat clock."""
        return number * (self.work_ms + self.rest_ms)

    def end_ms(self, number: int) -> int:
        """When the work in piece `number` ends on the heat clock."""
        return self.start_ms(number) + self.work_ms


def rules_of(workout: Workout) -> IntervalRules:
    """Give the rules of the pieces."""
    return own_rules(workout, IntervalRules)
