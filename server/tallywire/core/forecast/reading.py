"""What the trails say: the times of complete stations, and how far each lane is into the one in progress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array

PRIOR_TRANSITION_MS = 4000.0
MOST_TRANSITION = 0.3
PRIOR_LEGS = 3.0
"""Before anything is seen a station begins with 4 s of transition (common practice: 3–10 s, no source), at most 30 %
of it; that weighs as much as three stations seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """L lanes, K legs. `spent_ms` (L, K) is the time of a complete leg, NaN otherwise; `current` (L) the leg in
    progress (K when all are done); `into` (L) the units done of it, `part_ms` (L) the time they took,
    `last_ms` (L) the heat clock of the last fact. `transition` (K) is the share of a leg spent before its first unit.
    """

    spent_ms: Array
    current: np.ndarray[tuple[int], np.dtype[np.int64]]
    into: Array
    part_ms: Array
    last_ms: Array
    transition: Array

    def share(self, legs: Legs) -> Array:
        """The share of the current leg's time that its done units stand for (L); 0 without any."""
        at = np.minimum(self.current, len(legs.amount) - 1)
        before = self.transition[at]
        return np.where(self.into > 0, before + (1 - before) * self.into / legs.amount[at], 0.0)


def read(legs: Legs, trails: Sequence[Sequence[tuple[int, int]]], *, start_ms: int = 0) -> Reading:
    """Read every lane's trail: (at_ms, done) rising. `start_ms` is the heat clock at the start."""
    lanes = [_read_lane(legs, trail, start_ms) for trail in trails]
    spent = np.array([lane[0] for lane in lanes])
    current = np.array([lane[1] for lane in lanes])
    return Reading(
        spent_ms=spent,
        current=current,
        into=np.array([lane[2] for lane in lanes]),
        part_ms=np.array([lane[3] for lane in lanes]),
        last_ms=np.array([lane[4] for lane in lanes]),
        transition=_transition(legs, spent, np.array([lane[5] for lane in lanes])),
    )


def _read_lane(
    legs: Legs, trail: Sequence[tuple[int, int]], start_ms: int
) -> tuple[Array, int, float, float, float, Array]:
    facts = np.array([(start_ms, 0), *trail], dtype=np.float64)
    times, done = facts[:, 0], facts[:, 1]
    count = int(legs.done_after.searchsorted(done[-1], side="right"))
    ends = times[done.searchsorted(legs.done_after[:count])]
    begins = np.concatenate(([float(start_ms)], ends))
    spent = np.full(len(legs.amount), np.nan)
    spent[:count] = ends - begins[:count]
    first_ms = np.full(len(legs.amount), np.nan)
    before = np.concatenate(([0.0], legs.done_after[:count]))[:count]
    first_ms[:count] = times[done.searchsorted(before, side="right")] - begins[:count]
    into = done[-1] - (legs.done_after[count - 1] if count else 0.0)
    return spent, count, float(into), float(times[-1] - begins[count]), float(times[-1]), first_ms


def _transition(legs: Legs, spent: Array, first_ms: Array) -> Array:
    """Mean over complete legs of the time before the first unit, less one usual unit, as a share of the leg."""
    guess = np.minimum(PRIOR_TRANSITION_MS / legs.expected_ms, MOST_TRANSITION)
    counted = ~legs.block & (legs.amount > 1)
    usual = (spent - first_ms) / np.maximum(legs.amount - 1, 1)
    shares = np.clip((first_ms - usual) / np.maximum(spent, 1), 0, 0.8)
    seen = np.isfinite(shares) & counted
    sums = np.bincount(legs.station, weights=np.where(seen, shares, 0).sum(axis=0), minlength=legs.stations)
    counts = np.bincount(legs.station, weights=seen.sum(axis=0), minlength=legs.stations)
    learned = (PRIOR_LEGS * guess + sums[legs.station]) / (PRIOR_LEGS + counts[legs.station])
    return np.where(counted, learned, 0.0)
