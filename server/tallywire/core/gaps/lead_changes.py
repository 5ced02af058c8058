"""Who led a heat, and when: read from the trails, so that a page opened late knows it too, and corrections count.

To lead is to be alone in front: nobody else has as many scored reps. Drawing level does not take the lead; going ahead
does, and so does being ahead once the leader has stopped or lost reps to a penalty. A disqualified lane has never led.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.counting import finish_ms
from tallywire.core.formats.registry import format_of
from tallywire.core.model.workout import Plan

MOST = 20
"""How many of the newest changes are given."""
Trail = tuple[tuple[int, int], ...]
Column = np.ndarray[tuple[int], np.dtype[np.int64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadChange:
    """From `at_ms` on a lane led alone, with `scored_reps`; `first`: nobody had before it."""

    lane: int
    at_ms: int
    scored_reps: int
    first: bool


def lead_changes(state: HeatState) -> dict[str, list[LeadChange]]:
    """Give the changes of the lead by division, oldest first, until the first lane finishes.

    None for work in pieces.
    """
    if not format_of(state.event.workout).counting.one_count:
        return {}
    divisions = dict.fromkeys(lane.entry.division for lane in state.lanes.values())
    lanes = [lane for lane in state.lanes.values() if lane.tally.trail and not lane.conduct.disqualified]
    return {each: _changes(state.plan, [lane for lane in lanes if lane.entry.division == each]) for each in divisions}


def _changes(plan: Plan, lanes: Sequence[LaneState]) -> list[LeadChange]:
    if not lanes:
        return []
    paths = [_path(plan, tuple(lane.tally.trail)) for lane in lanes]
    lost = np.array([at_ms for lane in lanes for at_ms in _lost_ms(lane)], dtype=np.int64)
    at_ms = np.concatenate([*(times for times, _ in paths), lost])
    order = np.argsort(at_ms, kind="stable")
    table = np.zeros((len(at_ms), len(lanes)), dtype=np.int64)
    begin = 0
    for column, (times, reps) in enumerate(paths):
        table[np.arange(begin, begin + len(times)), column] = reps
        begin += len(times)
    table = np.maximum.accumulate(table[order], axis=0)
    times = at_ms[order]
    for column, lane in enumerate(lanes):
        for penalty in lane.conduct.penalties:
            table[times >= penalty.at_ms, column] -= penalty.reps
        np.maximum(table[:, column], 0, out=table[:, column])
        if lane.conduct.withdrawn_ms is not None:
            table[times >= lane.conduct.withdrawn_ms, column] = -1
    return _read_off(plan, lanes, times, table)


def _lost_ms(lane: LaneState) -> list[int]:
    """When a lane stopped, or reps were taken from it."""
    stopped_ms = lane.conduct.withdrawn_ms
    stops = [] if stopped_ms is None else [stopped_ms]
    return stops + [penalty.at_ms for penalty in lane.conduct.penalties if penalty.reps]


def _read_off(plan: Plan, lanes: Sequence[LaneState], times: Column, table: np.ndarray) -> list[LeadChange]:
    """Look at the last fact of each moment: facts of one moment count together."""
    home = [finish for lane in lanes if (finish := finish_ms(plan, lane.tally)) is not None]
    looked = np.flatnonzero((np.append(times[1:], -1) != times) & (times < min(home, default=2**62)))
    best = table.max(axis=1)
    alone = (table == best[:, None]).sum(axis=1) == 1
    first = table.argmax(axis=1)
    found: list[LeadChange] = []
    holder = -1
    for row in looked[alone[looked] & (best[looked] > 0)]:
        if first[row] != holder:
            holder = int(first[row])
            lane, reps = lanes[holder].lane, int(best[row])
            found.append(LeadChange(lane=lane, at_ms=int(times[row]), scored_reps=reps, first=not found))
    return found[-MOST:]


@lru_cache(maxsize=512)
def _path(plan: Plan, trail: Trail) -> tuple[Column, Column]:
    """The times and scored reps of a trail; they are kept, because only one lane changes at a time."""
    return (
        np.array([at_ms for at_ms, _ in trail], dtype=np.int64),
        np.array([plan.scored(done) for _, done in trail], dtype=np.int64),
    )
