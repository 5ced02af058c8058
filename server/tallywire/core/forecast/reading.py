"""Reading trails: the times of complete stations, and how far each lane is into the one in progress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array, with_new

Trail = Sequence[tuple[int, int]]
Indexes = np.ndarray[tuple[int], np.dtype[np.int64]]

PRIOR_TRANSITION_MS = 4000.0
MOST_TRANSITION = 0.3
PRIOR_LEGS = 3.0
"""Before anything is seen, a station is taken to begin with 4 s of transition (common practice: 3–10 s, no source), at
most 30 % of it.

That weighs as much as three observed stations.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """L lanes, K legs. `spent_ms` (L, K) is the time of a complete leg, NaN otherwise; `current` (L) the leg in
    progress (K when all are done), `at` (L) the same, but then the last; `into` (L) the units done of it, `part_ms` (L)
    the time they took, `share` (L) the share of the leg's time that they stand for (0 without any); `last_ms` (L) the
    heat clock of the last fact. `transition` (K) is the share of a leg spent before its first unit.
    """

    spent_ms: Array
    current: Indexes
    at: Indexes
    into: Array
    part_ms: Array
    share: Array
    last_ms: Array
    transition: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lanes:
    """What the trail of each lane says by itself; `first_ms` (L, K) is the time of a complete leg up to its first unit.
    `trails` are those that were read, from a start at `start_ms`."""

    legs: Legs
    start_ms: int
    trails: Sequence[Trail]
    spent_ms: Array
    first_ms: Array
    current: Indexes
    into: Array
    part_ms: Array
    last_ms: Array


_COLUMNS = ("spent_ms", "first_ms", "current", "into", "part_ms", "last_ms")


def read(legs: Legs, trails: Sequence[Trail], *, start_ms: int = 0, handed_on: dict[str, Any] | None = None) -> Reading:
    """Read every lane's trail: (at_ms, done) rising. `start_ms` is the heat clock at the start.

    `handed_on` goes from one reading of a heat to the next: a trail that is still the same object is not read again.
    """
    kept = {} if handed_on is None else handed_on
    lanes = kept["trails"] = _read_on(legs, trails, start_ms, kept.get("trails"))
    transition = _kept_transition(lanes, kept)
    at = np.minimum(lanes.current, len(legs.amount) - 1)
    before = transition[at]
    return Reading(
        spent_ms=lanes.spent_ms,
        current=lanes.current,
        at=at,
        into=lanes.into,
        part_ms=lanes.part_ms,
        share=np.where(lanes.into > 0, before + (1 - before) * lanes.into / legs.amount[at], 0.0),
        last_ms=lanes.last_ms,
        transition=transition,
    )


def _read_on(legs: Legs, trails: Sequence[Trail], start_ms: int, before: _Lanes | None) -> _Lanes:
    if before is None or before.legs is not legs or before.start_ms != start_ms or len(before.trails) != len(trails):
        return _read_lanes(legs, trails, start_ms)
    new = [row for row, (trail, known) in enumerate(zip(trails, before.trails, strict=True)) if trail is not known]
    if not new:
        return before
    found = _read_lanes(legs, [trails[row] for row in new], start_ms)
    return replace(before, trails=trails, **with_new(before, found, _COLUMNS, new))


def _kept_transition(lanes: _Lanes, kept: dict[str, Any]) -> Array:
    """The share of each leg (K) before its first unit: as it was for the same complete legs, for most facts complete
    none."""
    seen = (lanes.spent_ms.tobytes(), lanes.first_ms.tobytes())
    legs, known, transition = kept.get("transition", (None, None, None))
    if legs is not lanes.legs or known != seen:
        transition = _transition(lanes.legs, lanes.spent_ms, lanes.first_ms)
    kept["transition"] = (lanes.legs, seen, transition)
    return np.asarray(transition)


def _read_lanes(legs: Legs, trails: Sequence[Trail], start_ms: int) -> _Lanes:
    facts = np.fromiter(chain.from_iterable(chain.from_iterable([((start_ms, 0), *each) for each in trails])), float)
    times, done = facts[::2], facts[1::2]
    sizes = [1 + len(trail) for trail in trails]
    last = np.cumsum(sizes) - 1
    lane = np.arange(len(trails))
    # All trails in one search: each lane's units are moved up past those of the lane before.
    beyond = (max(done.max(), legs.begins_at[-1]) + 1) * lane[:, None]
    moved = done + np.repeat(beyond[:, 0], sizes)
    complete = done[last, None] >= legs.done_after
    reached = np.minimum(moved.searchsorted(legs.done_after + beyond), last[:, None])
    begun = np.minimum(moved.searchsorted(legs.begins_at[:-1] + beyond, side="right"), last[:, None])
    begins = np.empty((len(trails), 1 + len(legs.amount)))
    begins[:, 0] = start_ms
    begins[:, 1:] = np.where(complete, times[reached], np.nan)
    current = complete.sum(axis=1)
    return _Lanes(
        legs=legs,
        start_ms=start_ms,
        trails=trails,
        spent_ms=begins[:, 1:] - begins[:, :-1],
        first_ms=np.where(complete, times[begun], np.nan) - begins[:, :-1],
        current=current,
        into=done[last] - legs.begins_at[current],
        part_ms=times[last] - begins[lane, current],
        last_ms=times[last],
    )


def _transition(legs: Legs, spent: Array, first_ms: Array) -> Array:
    """Mean over complete legs of the time before the first unit, less one usual unit, as a share of the leg."""
    guess = np.minimum(PRIOR_TRANSITION_MS / legs.expected_ms, MOST_TRANSITION)
    counted = ~legs.block & (legs.amount > 1)
    usual = (spent - first_ms) / np.maximum(legs.amount - 1, 1)
    shares = ((first_ms - usual) / np.maximum(spent, 1)).clip(0, 0.8)
    seen = np.isfinite(shares) & counted
    sums = np.bincount(legs.station, weights=np.where(seen, shares, 0).sum(axis=0), minlength=legs.stations)
    counts = np.bincount(legs.station, weights=seen.sum(axis=0), minlength=legs.stations)
    learned = (PRIOR_LEGS * guess + sums[legs.station]) / (PRIOR_LEGS + counts[legs.station])
    return np.where(counted, learned, 0.0)
