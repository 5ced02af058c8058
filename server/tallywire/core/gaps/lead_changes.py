"""Who led a heat, and when: read from the trails, so that a page opened late knows it too, and corrections count.

To lead is to be alone in front: nobody else has as many scored reps. Drawing level does not take the lead; going ahead
does, and so does being ahead once the leader has stopped or lost reps to a penalty. A disqualified lane has never led.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import itemgetter

import numpy as np

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.counting import finish_ms
from tallywire.core.formats.registry import format_of
from tallywire.core.model.workout import Plan

MOST = 20
"""How many of the newest changes are given."""
STILL_MS = 5_000
"""Taps that come no later than this after others do not make the whole heat be gone through again."""
Step = tuple[int, int]
"""(at_ms, done): when the count of a lane went up, and to where."""
Trail = Sequence[Step]
Ruled = tuple[int, int | None, int | None, tuple[tuple[int, int], ...]]
_AT_MS = itemgetter(0)
_NEVER = 2**62
Column = np.ndarray[tuple[int], np.dtype[np.int64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadChange:
    """From `at_ms` on a lane led alone, with `scored_reps`; `first`: nobody had before it."""

    lane: int
    at_ms: int
    scored_reps: int
    first: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Settled:
    """What was found before `before_ms`, and what it was found from.

    `trails` are the lanes' trails up to then, `ruled` what there was besides counts; `reps` is what each lane had,
    penalties not taken off, and `holder` the one who led last, -1 for nobody.
    """

    before_ms: int
    trails: tuple[Trail, ...]
    ruled: tuple[Ruled, ...]
    reps: tuple[int, ...]
    holder: int
    found: tuple[LeadChange, ...]


def lead_changes(state: HeatState) -> dict[str, list[LeadChange]]:
    """Give the changes of the lead by division, oldest first, until the first lane finishes.

    None for work in pieces. Where facts only came behind others, it is gone on from what was found before them.
    """
    if not format_of(state.event.workout).counting.one_count:
        return {}
    divisions = dict.fromkeys(lane.entry.division for lane in state.lanes.values())
    lanes = [lane for lane in state.lanes.values() if lane.tally.trail and not lane.conduct.disqualified]
    return {each: _changes(state, each, [lane for lane in lanes if lane.entry.division == each]) for each in divisions}


def _changes(state: HeatState, division: str, lanes: Sequence[LaneState]) -> list[LeadChange]:
    if not lanes:
        return []
    name, trails = f"leads {division}", [lane.tally.trail for lane in lanes]
    begun, gone_through = state.handed_on.get(name, (None, ()))
    ruled = tuple(_ruled(state.plan, lane) for lane in lanes)
    if begun is None or begun.ruled != ruled or not _still_holds(begun, trails, gone_through):
        begun = _beginning(ruled)
    found, begun = _gone_on(state.plan, lanes, begun)
    state.handed_on[name] = (begun, trails)
    return list(found.found)


def _beginning(ruled: tuple[Ruled, ...]) -> _Settled:
    nothing: tuple[list[Step], ...] = tuple([] for _ in ruled)
    return _Settled(before_ms=-1, trails=nothing, ruled=ruled, reps=(0,) * len(ruled), holder=-1, found=())


def _still_holds(begun: _Settled, trails: Sequence[Trail], gone_through: Sequence[Trail]) -> bool:
    """Whether the lanes have what they had, and anything new came later. Of trails `gone_through` the last time it is
    known."""
    return all(
        trail is before or (trail[: len(known)] == known and _step_ms(trail, len(known)) >= begun.before_ms)
        for known, trail, before in zip(begun.trails, trails, gone_through, strict=True)
    )


def _step_ms(trail: Sequence[Step], number: int) -> int:
    return trail[number][0] if number < len(trail) else _NEVER


def _ruled(plan: Plan, lane: LaneState) -> Ruled:
    """What changes who led besides the counts: when a lane was home, when it stopped, what was taken from it."""
    taken = tuple((penalty.at_ms, penalty.reps) for penalty in lane.conduct.penalties if penalty.reps)
    return lane.lane, finish_ms(plan, lane.tally), lane.conduct.withdrawn_ms, taken


def _gone_on(plan: Plan, lanes: Sequence[LaneState], begun: _Settled) -> tuple[_Settled, _Settled]:
    """Go through what came since. Gives what was found in all, and up to where the next time may begin."""
    steps = [lane.tally.trail[len(known) :] for known, lane in zip(begun.trails, lanes, strict=True)]
    lost = [at_ms for lane in lanes for at_ms in _lost_ms(lane) if at_ms >= begun.before_ms]
    times, raw = _table(plan, begun.reps, steps, lost)
    before_ms = int(times[-1]) - STILL_MS if len(times) else begun.before_ms
    if before_ms <= begun.before_ms + STILL_MS:
        return _read_off(lanes, begun, times, raw), begun
    cut = int(np.searchsorted(times, before_ms))
    found = _read_off(lanes, begun, times[:cut], raw[:cut])
    trails = tuple(lane.tally.trail[: _steps_before(lane, before_ms)] for lane in lanes)
    reps = tuple(int(each) for each in raw[cut - 1]) if cut else begun.reps
    settled = replace(found, before_ms=before_ms, trails=trails, reps=reps)
    return _read_off(lanes, settled, times[cut:], raw[cut:]), settled


def _steps_before(lane: LaneState, at_ms: int) -> int:
    return bisect_left(lane.tally.trail, at_ms, key=_AT_MS)


def _table(
    plan: Plan, reps: Sequence[int], steps: Sequence[Sequence[Step]], lost: Sequence[int]
) -> tuple[Column, np.ndarray]:
    """Give every time at which something changed, in order, and what each lane had then, penalties not taken off."""
    at_ms = np.array([*(step[0] for trail in steps for step in trail), *lost], dtype=np.int64)
    order = np.argsort(at_ms, kind="stable")
    table = np.zeros((len(at_ms), len(steps)), dtype=np.int64)
    begin = 0
    for column, trail in enumerate(steps):
        table[begin : begin + len(trail), column] = [plan.scored(done) for _, done in trail]
        begin += len(trail)
    table = np.maximum.accumulate(np.maximum(table[order], np.array(reps, dtype=np.int64)), axis=0)
    return at_ms[order], table


def _ruled_table(lanes: Sequence[LaneState], times: Column, raw: np.ndarray) -> np.ndarray:
    """Take the penalties off, and those who have stopped out."""
    table = raw.copy()
    for column, lane in enumerate(lanes):
        for penalty in lane.conduct.penalties:
            table[times >= penalty.at_ms, column] -= penalty.reps
        np.maximum(table[:, column], 0, out=table[:, column])
        if lane.conduct.withdrawn_ms is not None:
            table[times >= lane.conduct.withdrawn_ms, column] = -1
    return table


def _lost_ms(lane: LaneState) -> list[int]:
    """When a lane stopped, or reps were taken from it."""
    stopped_ms = lane.conduct.withdrawn_ms
    stops = [] if stopped_ms is None else [stopped_ms]
    return stops + [penalty.at_ms for penalty in lane.conduct.penalties if penalty.reps]


def _read_off(lanes: Sequence[LaneState], begun: _Settled, times: Column, raw: np.ndarray) -> _Settled:
    """Look at the last fact of each moment: facts of one moment count together."""
    if not len(times):
        return begun
    table = _ruled_table(lanes, times, raw)
    home = [finish for _, finish, _, _ in begun.ruled if finish is not None]
    looked = np.flatnonzero((np.append(times[1:], -1) != times) & (times < min(home, default=_NEVER)))
    best = table.max(axis=1)
    alone = (table == best[:, None]).sum(axis=1) == 1
    first = table.argmax(axis=1)
    found = [*begun.found]
    holder = begun.holder
    for row in looked[alone[looked] & (best[looked] > 0)]:
        if first[row] != holder:
            holder = int(first[row])
            lane, reps = lanes[holder].lane, int(best[row])
            found.append(LeadChange(lane=lane, at_ms=int(times[row]), scored_reps=reps, first=not found))
    return replace(begun, holder=holder, found=tuple(found[-MOST:]))
