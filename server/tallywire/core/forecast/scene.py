"""What a forecast is asked about: the heat, the rest of the event, and the standing before it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tallywire.core.fold.heat import HeatState
from tallywire.core.forecast.model import History, Prior, Taught
from tallywire.core.formats.base import Tally
from tallywire.core.model.workout import Plan

Ranks = np.ndarray[tuple[int, ...], np.dtype[np.int16 | np.int32]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Runner:
    """A lane. `trail` is (at_ms, done) rising; `finish_ms` the finish on the clock, None while it is not done.

    `out` is true without a result (did not start, withdrew, disqualified). Penalties are the head judge's: ms
    added to the time, scored reps taken off. `place` is the place as it stands, for formats without a model.
    `tally` is for formats that look at more than the trail.
    """

    lane: int
    entry: str
    division: str
    trail: Sequence[tuple[int, int]] = ()
    finish_ms: int | None = None
    out: bool = False
    penalty_ms: int = 0
    penalty_reps: int = 0
    history: History | None = None
    place: int = 1
    tally: Tally = field(default_factory=Tally)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoredPart:
    """One of several scores of the event: the time at `mark_units`, the scored reps at `at_ms`, or the whole result."""

    mark_units: int | None = None
    at_ms: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """The result of another entry of the event: a time with its penalties, or the scored reps at the cap, or neither.

    `tie_break_ms` is its time at the tie-break mark. `key` is its sort key (smaller is better) in formats that have
    neither. `part_keys` are those of the event's scores where it has several (`parts.key_of`).
    """

    entry: str
    division: str
    finish_ms: int | None = None
    scored_reps: int | None = None
    tie_break_ms: int | None = None
    key: float | None = None
    part_keys: tuple[float, ...] = ()

    @property
    def has_result(self) -> bool:
        """Whether it has a result."""
        return self.finish_ms is not None or self.scored_reps is not None or self.key is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLevels:
    """A score of the event: `level[place, size]` of a place that `size` entries share, and by level its `points`;
    `nothing` is what it gives without a result that earns."""

    level: np.ndarray[tuple[int, int], np.dtype[np.int16]]
    points: np.ndarray[tuple[int], np.dtype[np.float32]]
    nothing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Overall:
    """What every result in the event means for the overall standing, under its rules (from `core.clinching`).

    `parts` are its scores, mostly one. For each entry `after` has its standing by the levels of all of them, the last
    one's next to each other (a smaller number stands better, equal ones share); `out` is its standing without a result.
    `mean`: those who share a place earn the mean, so that sizes matter. Where standings are not worked out `after` is
    empty, and `out` only names who contends.
    """

    parts: tuple[PartLevels, ...]
    after: Mapping[str, Ranks]
    out: Mapping[str, int]
    mean: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """The heat at `now_ms` on the heat clock, which began at `start_ms`.

    `others` are the entries of the event that are not in this heat, `worth` the points by place, first place first.
    `overall` tells by division what places make of the overall standing; without it nothing is said of that. `least` is
    the work below which a place earns nothing. `parts` are the scores of an event with several. `learned` is what
    earlier heats of the event taught (`of_event.lesson`). Nobody is given a `vacant` place of the event (division,
    place). `ended_ms` is when the officials ended the heat. `handed_on` goes from one forecast of the heat to the next:
    what is in it, by name, is only a beginning, which whoever takes it up checks and replaces whole.
    """

    plan: Plan
    runners: Sequence[Runner]
    now_ms: int
    start_ms: int = 0
    ended_ms: int | None = None
    others: Sequence[Result] = ()
    worth: Sequence[float] = ()
    overall: Mapping[str, Overall] = field(default_factory=dict)
    least: int = 0
    parts: tuple[ScoredPart, ...] = ()
    vacant: tuple[tuple[str, int], ...] = ()
    learned: Taught | None = None
    prior: Prior = field(default_factory=Prior)
    handed_on: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def ends_ms(self) -> int:
        """When counting stops: the cap, or the end of the heat if that came first."""
        cap = self.plan.workout.time_cap_ms
        return cap if self.ended_ms is None else min(cap, self.ended_ms)


def parts_of(state: HeatState) -> tuple[ScoredPart, ...]:
    """Give the scores of an event with several, in the terms of a scene."""
    marks = [(None if part.mark is None else state.plan.done_at(part.mark), part.at_ms) for part in state.event.parts]
    return tuple(ScoredPart(mark_units=units, at_ms=at_ms) for units, at_ms in marks)
