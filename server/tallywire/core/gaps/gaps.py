"""Gaps in scored reps, in work and in seconds, from the trails of counted work.

The gap in seconds answers: when did the other pass the point where this one is now? A trail is known at its facts and,
between two facts, taken as linear; a stretch that touches a block credited as one is known only at its two ends, so a
point inside it is never guessed: the gap is then that of the last point both passed, and says so.

Times are integer milliseconds on the heat clock, points are units done (a fraction between two facts).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.counting import finish_ms
from tallywire.core.model.workout import Credit, Plan

Trail = Sequence[tuple[int, int]]
"""(at_ms, done) whenever the count went up, rising in both."""


class Precision(StrEnum):
    """How well a gap in seconds is known.

    `exact`: both passed the point with a fact. `linear`: at least one passed it between two facts. `at_last_mark`: one
    is inside a block, so the gap is that of the last point both are known to have passed. `at_least`: the count has
    stood still so long that the gap has outgrown the one at the last fact; it is this much and growing.
    """

    EXACT = "exact"
    LINEAR = "linear"
    AT_LAST_MARK = "at_last_mark"
    AT_LEAST = "at_least"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Seconds behind, in ms, measured at `point` (units done). Negative: ahead there (against a ghost only)."""

    behind_ms: int
    precision: Precision
    point: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GapNumbers:
    """One lane behind another: in scored reps, in work (expected ms between them) and in seconds.

    None of them is negative. `seconds` is None when the other has no more work than this one.
    """

    lane: int
    reps: int
    work_ms: int
    seconds: Gap | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneGaps:
    """A lane's gaps to the leader of its division and to the nearest better place; both None for a leader."""

    to_leader: GapNumbers | None
    to_next: GapNumbers | None


class Path:
    """A trail read as a path through the plan: where it was at a time, and when it passed a point."""

    def __init__(self, plan: Plan, trail: Trail, *, start_ms: int = 0) -> None:
        self.plan = plan
        self.times = [start_ms, *(at_ms for at_ms, _ in trail)]
        self.points = [0, *(done for _, done in trail)]

    def passed(self, point: float) -> tuple[int, Precision] | None:
        """When the path was at `point` for the first time; None when it has not come so far.

        Inside a block the time is that of the block's known beginning, as `at_last_mark`.
        """
        after = bisect_left(self.points, point)
        if after == len(self.points):
            return None
        if self.points[after] == point:
            return self.times[after], Precision.EXACT
        first, last = self.points[after - 1], self.points[after]
        if touches_block(self.plan, first, last):
            return self.times[after - 1], Precision.AT_LAST_MARK
        share = (point - first) / (last - first)
        return round(self.times[after - 1] + share * (self.times[after] - self.times[after - 1])), Precision.LINEAR

    def known_before(self, point: float) -> int:
        """The last point with a fact at or before `point`."""
        return self.points[bisect_right(self.points, point) - 1]

    def at(self, at_ms: int) -> tuple[float, Precision]:
        """Where the path was at a time: the last fact's point once no later fact is known, or inside a block."""
        after = bisect_right(self.times, at_ms)
        first = self.points[max(0, after - 1)]
        if after in (0, len(self.points)) or self.times[after - 1] == at_ms:
            return first, Precision.EXACT
        last = self.points[after]
        if touches_block(self.plan, first, last):
            return first, Precision.AT_LAST_MARK
        share = (at_ms - self.times[after - 1]) / (self.times[after] - self.times[after - 1])
        return first + share * (last - first), Precision.LINEAR


def touches_block(plan: Plan, first: int, last: int) -> bool:
    """Tell whether the stretch between two points lies in a block credited as one, wholly or in part."""
    point = first
    while point < last:
        lap, leg = plan.leg_at(point)
        if leg.station.credit is Credit.BLOCK and leg.station.amount > 1:
            return True
        point = lap * plan.lap_done + leg.done_after
    return False


def work_ms(plan: Plan, done: int) -> int:
    """Expected time of the first `done` units, from the stations' expected times, linear inside a station."""
    lap, leg = plan.leg_at(done)
    lap_ms = sum(each.station.expected_ms for each in plan.legs)
    before = sum(each.station.expected_ms for each in plan.legs if each.done_after <= leg.done_before)
    into = done - lap * plan.lap_done - leg.done_before
    return lap * lap_ms + before + round(leg.station.expected_ms * into / leg.station.amount)


def gap_at(path: Path, other: Path, at_ms: int) -> Gap | None:
    """How far `path` was behind `other` at a time, in ms. None when `other` never passed the point.

    The answer is signed: negative when `path` passed the point first and nothing up to `at_ms` says otherwise.
    """
    point, seen = path.at(at_ms)
    gap = _gap_at_point(path, other, point, at_ms if seen is Precision.LINEAR else None)
    waited = _waited(path, other, at_ms)
    if waited is not None and (gap is None or waited.behind_ms > gap.behind_ms):
        return waited
    if gap is not None and seen is Precision.AT_LAST_MARK:
        return Gap(behind_ms=gap.behind_ms, precision=seen, point=gap.point)
    return gap


def behind_at(path: Path, other: Path, point: float) -> Gap | None:
    """How far `path` was behind `other` at a point both passed: the time of the one less that of the other."""
    return _gap_at_point(path, other, point, None)


def heat_gaps(state: HeatState) -> dict[int, LaneGaps]:
    """Give every lane's gaps as of the state's clock, among the entries of its own division."""
    paths = {number: lane_path(state, lane) for number, lane in state.lanes.items()}
    return {number: _lane_gaps(state, paths, state.lanes[number]) for number in state.order}


def lane_path(state: HeatState, lane: LaneState) -> Path:
    """Read a lane's trail; a finisher's last point stands at the finish on the clock, penalties left out."""
    start = 0 if state.started is None else state.started.at_ms
    trail = lane.tally.trail
    finish = finish_ms(state.plan, lane.tally)
    if finish is not None and trail:
        trail = [*trail[:-1], (finish, trail[-1][1])]
    return Path(state.plan, trail, start_ms=start)


def ghost_gap(path: Path, ghost: Path, clock_ms: int) -> Gap | None:
    """Behind (positive) or ahead of (negative) the best earlier heat's trail, both heats begun together."""
    return gap_at(path, ghost, clock_ms)


def intervals(finish_times_ms: Iterable[int]) -> list[tuple[int, int]]:
    """Give (gap to the first, interval to the one ahead) for finish times in the order of places, in integer ms."""
    times = list(finish_times_ms)
    return [(each - times[0], each - ahead) for each, ahead in zip(times, times[:1] + times, strict=False)]


def _gap_at_point(path: Path, other: Path, point: float, at_ms: int | None) -> Gap | None:
    own, theirs = path.passed(point), other.passed(point)
    if own is None or theirs is None:
        return None
    if Precision.AT_LAST_MARK in (own[1], theirs[1]):
        return _gap_at_last_mark(path, other, point)
    reached = own[0] if at_ms is None else at_ms
    kind = Precision.EXACT if own[1] is theirs[1] is Precision.EXACT else Precision.LINEAR
    return Gap(behind_ms=reached - theirs[0], precision=kind, point=point)


def _gap_at_last_mark(path: Path, other: Path, point: float) -> Gap:
    """Step back until neither trail is inside a block: the start at the latest."""
    known, kinds = point, {Precision.AT_LAST_MARK}
    while Precision.AT_LAST_MARK in kinds:
        blind = [each for each in (path, other) if _passed(each, known)[1] is Precision.AT_LAST_MARK]
        known = min((each.known_before(known) for each in blind), default=known)
        kinds = {_passed(each, known)[1] for each in (path, other)}
    behind = _passed(path, known)[0] - _passed(other, known)[0]
    return Gap(behind_ms=behind, precision=Precision.AT_LAST_MARK, point=known)


def _passed(path: Path, point: float) -> tuple[int, Precision]:
    found = path.passed(point)
    assert found is not None, "the point lies before one the path has passed"
    return found


def _waited(path: Path, other: Path, at_ms: int) -> Gap | None:
    """The other passed this one's next point a while ago, and this one has not passed it yet."""
    here = path.points[bisect_right(path.times, at_ms) - 1] if at_ms >= path.times[0] else 0
    following = _next_point(path.plan, here)
    theirs = None if following is None else other.passed(following)
    if following is None or theirs is None or theirs[1] is Precision.AT_LAST_MARK or theirs[0] > at_ms:
        return None
    own = path.passed(following)
    if own is not None and own[0] <= at_ms:
        return None
    return Gap(behind_ms=at_ms - theirs[0], precision=Precision.AT_LEAST, point=following)


def _next_point(plan: Plan, done: int) -> int | None:
    if plan.total_done is not None and done >= plan.total_done:
        return None
    return plan.block_end(done) or done + 1


def _lane_gaps(state: HeatState, paths: Mapping[int, Path], lane: LaneState) -> LaneGaps:
    division = lane.entry.division
    better = [
        other
        for other in (state.lanes[number] for number in state.order)
        if other.entry.division == division and other.place < lane.place
    ]
    if not better:
        return LaneGaps(to_leader=None, to_next=None)
    return LaneGaps(
        to_leader=_numbers(state, paths, lane, better[0]),
        to_next=_numbers(state, paths, lane, better[-1]),
    )


def _numbers(state: HeatState, paths: Mapping[int, Path], lane: LaneState, other: LaneState) -> GapNumbers:
    behind = work_ms(state.plan, other.tally.done) - work_ms(state.plan, lane.tally.done)
    seconds = gap_at(paths[lane.lane], paths[other.lane], state.clock_ms)
    if seconds is not None and seconds.behind_ms < 0:
        seconds = None
    return GapNumbers(
        lane=other.lane,
        reps=max(0, other.scored_reps - lane.scored_reps),
        work_ms=max(0, behind),
        seconds=seconds,
    )
