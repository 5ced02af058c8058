"""Who led a heat, and when: read from the trails, so that a page opened late knows it too, and corrections count.

To lead is to be alone in front: nobody else has as many scored reps. Drawing level does not take the lead; going ahead
does, and so does being ahead once the leader has stopped or lost reps to a penalty. A disqualified lane has never led.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from operator import itemgetter

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
_NOBODY = -1
_NEVER = 2**62
_END = (_NEVER, 0, 0)


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
    penalties not taken off, and `holder` the column of the one who led last.
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
    return _Settled(before_ms=-1, trails=nothing, ruled=ruled, reps=(0,) * len(ruled), holder=_NOBODY, found=())


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
    steps = _steps(plan, lanes, begun)
    before_ms = steps[-1][0] - STILL_MS if steps else begun.before_ms
    if before_ms <= begun.before_ms + STILL_MS:
        return _read_off(lanes, begun, steps), begun
    cut = _before(steps, before_ms)
    trails = tuple(lane.tally.trail[: _before(lane.tally.trail, before_ms)] for lane in lanes)
    settled = replace(_read_off(lanes, begun, steps[:cut]), before_ms=before_ms, trails=trails)
    return _read_off(lanes, settled, steps[cut:]), settled


def _before(steps: Sequence[tuple[int, ...]], at_ms: int) -> int:
    """How many steps came before a time."""
    return bisect_left(steps, at_ms, key=_AT_MS)


def _steps(plan: Plan, lanes: Sequence[LaneState], begun: _Settled) -> list[tuple[int, int, int]]:
    """Give what came since, in order: when, in which column, and the scored reps, penalties not taken off."""
    found = []
    for column, (known, lane) in enumerate(zip(begun.trails, lanes, strict=True)):
        found += [(at_ms, column, plan.scored(done)) for at_ms, done in lane.tally.trail[len(known) :]]
        found += [(at_ms, column, 0) for at_ms in _lost_ms(lane) if at_ms >= begun.before_ms]
    found.sort(key=_AT_MS)
    return found


def _lost_ms(lane: LaneState) -> list[int]:
    """When a lane stopped, or reps were taken from it."""
    stopped_ms = lane.conduct.withdrawn_ms
    stops = [] if stopped_ms is None else [stopped_ms]
    return stops + [penalty.at_ms for penalty in lane.conduct.penalties if penalty.reps]


def _read_off(lanes: Sequence[LaneState], begun: _Settled, steps: Sequence[tuple[int, int, int]]) -> _Settled:
    """Look at the end of each moment: facts of one moment count together."""
    reps, holder, found = [*begun.reps], begun.holder, [*begun.found]
    home_ms = min((finish for _, finish, _, _ in begun.ruled if finish is not None), default=_NEVER)
    less = [(column, lane) for column, lane in enumerate(lanes) if _lost_ms(lane)]
    best, is_open = 0, False
    for (at_ms, column, scored), (next_ms, _, _) in pairwise([*steps[: _before(steps, home_ms)], _END]):
        reps[column] = max(reps[column], scored)
        # Who has less than the best changes nothing, unless something was taken from somebody.
        is_open = is_open or scored >= best or not scored
        if is_open and next_ms != at_ms:
            now = _ruled_reps(reps, less, at_ms) if less else reps
            best, is_open, first = max(now), False, _alone_in_front(now)
            if first not in (_NOBODY, holder):
                holder = first
                found.append(LeadChange(lane=lanes[holder].lane, at_ms=at_ms, scored_reps=best, first=not found))
    return replace(begun, reps=tuple(reps), holder=holder, found=tuple(found[-MOST:]))


def _alone_in_front(reps: Sequence[int]) -> int:
    """The column of the one who has the most."""
    best = max(reps)
    return reps.index(best) if best > 0 and reps.count(best) == 1 else _NOBODY


def _ruled_reps(reps: Sequence[int], less: Sequence[tuple[int, LaneState]], at_ms: int) -> list[int]:
    """Take the penalties off up to a time, and those who have stopped out."""
    now = [*reps]
    for column, lane in less:
        taken = sum(penalty.reps for penalty in lane.conduct.penalties if penalty.at_ms <= at_ms)
        stopped_ms = lane.conduct.withdrawn_ms
        now[column] = max(0, now[column] - taken) if stopped_ms is None or at_ms < stopped_ms else -1
    return now
