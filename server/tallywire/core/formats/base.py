"""The one interface a format plugs into.

To add a format: write a module beside this one with a class that fills `Format`, and name it in
`tallywire.core.formats.FORMATS`. Everything else (fold, ranking, views, results) asks through this interface.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from tallywire.core.facts import Fact
from tallywire.core.workout import Plan, Workout

NEVER_MS = 2**62
"""Stands for a time that has not come in a sort key."""


class Status(StrEnum):
    """Where a lane stands."""

    READY = "ready"
    WORKING = "working"
    FINISHED = "finished"
    CAPPED = "capped"
    TIMED = "timed"
    WITHDRAWN = "withdrawn"


@dataclass(slots=True)
class Tally:
    """What one lane did, from its facts alone.

    `done` counts units, `trail` holds (at_ms, done) whenever the count went up, rising in both. `reached_ms` is when
    the present count was reached, `counted_ms` when the last repetition or block was counted by a judge.
    `remarks` name what the table should look at.
    """

    done: int = 0
    reached_ms: int = 0
    counted_ms: int = 0
    trail: list[tuple[int, int]] = field(default_factory=list)
    no_reps: int = 0
    finish_calls_ms: list[int] = field(default_factory=list)
    withdrawn_ms: int | None = None
    remarks: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Limits:
    """When counting stops: `until_ms` is the time cap or the moment the heat was ended; `over` once it has passed."""

    until_ms: int
    over: bool
    started: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a tally is worth now. `key` sorts: smaller is better, equal keys tie. `result` is as announced."""

    status: Status
    key: tuple[int, ...]
    result: str
    result_ms: int | None = None


class Format(Protocol):
    """How a workout is counted and ranked."""

    def plan(self, workout: Workout) -> Plan:
        """Give the arithmetic of the workout."""
        ...

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Fold one lane's standing facts, in order."""
        ...

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Judge a tally as of now."""
        ...
