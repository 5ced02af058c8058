"""Gaps in scored reps, in work and in seconds. Only this module works out how far a lane is behind another.

The gap in seconds answers: when did the other pass the point where this one is now, by the times that results go by?
A point inside a block is never guessed: the gap is then that of the last point both passed, and says so. The gap feed,
the call, cues and pictures all take their gaps from here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.gaps.path import Path, Precision, lane_path
from tallywire.core.model.workout import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Seconds behind, in ms, measured at `point` (units done). Negative: ahead there (against a ghost only)."""

    behind_ms: int
    precision: Precision
    point: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GapNumbers:
    """One lane behind another: in scored reps, in work (expected ms between them) and in seconds.

    None of them is negative. `seconds` is None when the other has no more work than this one, and when by time this one
    is ahead, because the lead changed inside a block or a count was corrected late.
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


def work_ms(plan: Plan, done: int) -> int:
    """Expected time of the first `done` units, from the stations' expected times, linear inside a station."""
    lap, leg = plan.leg_at(done)
    into = done - lap * plan.lap_done - leg.done_before
    in_leg_ms = round(leg.station.expected_ms * into / leg.station.amount)
    return lap * plan.lap_expected_ms + leg.expected_before_ms + in_leg_ms


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
    """Give every lane's gaps as of the state's clock, among the entries of its own division.

    A lane without a result is behind nobody. Nothing is measured against a lane under a medical hold.
    """
    found, rivals = {}, dict[str, list[LaneState]]()
    for lane in map(state.lanes.__getitem__, state.order):
        ahead = rivals.setdefault(lane.entry.division, [])
        found[lane.lane] = _lane_gaps(state, lane, ahead)
        if not lane.conduct.held:
            ahead.append(lane)
    return found


def ghost_gap(path: Path, ghost: Path, clock_ms: int) -> Gap | None:
    """How far a lane is behind (positive) or ahead of (negative) the best earlier trail, with both starts as one."""
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
    return _gap(path, other, reached - theirs[0], kind, point)


def _gap_at_last_mark(path: Path, other: Path, point: float) -> Gap:
    """Step back until neither trail is inside a block: the start at the latest."""
    known, kinds = point, {Precision.AT_LAST_MARK}
    while Precision.AT_LAST_MARK in kinds:
        blind = [each for each in (path, other) if _passed(each, known)[1] is Precision.AT_LAST_MARK]
        known = min((each.known_before(known) for each in blind), default=known)
        kinds = {_passed(each, known)[1] for each in (path, other)}
    behind = _passed(path, known)[0] - _passed(other, known)[0]
    return _gap(path, other, behind, Precision.AT_LAST_MARK, known)


def _gap(path: Path, other: Path, clock_ms: int, precision: Precision, point: float) -> Gap:
    """The time between two clocks, including the penalties that results add on either side."""
    return Gap(behind_ms=clock_ms + path.added_ms - other.added_ms, precision=precision, point=point)


def _passed(path: Path, point: float) -> tuple[int, Precision]:
    found = path.passed(point)
    assert found is not None, "the point lies before one the path has passed"
    return found


def _waited(path: Path, other: Path, at_ms: int) -> Gap | None:
    """How long ago the other passed the next point of this one, which is at work and has not passed it yet."""
    if not path.at_work:
        return None
    following = _next_point(path.plan, path.seen_by(at_ms))
    theirs = None if following is None else other.passed(following)
    if following is None or theirs is None or theirs[1] is Precision.AT_LAST_MARK or theirs[0] > at_ms:
        return None
    own = path.passed(following)
    if own is not None and own[0] <= at_ms:
        return None
    return _gap(path, other, at_ms - theirs[0], Precision.AT_LEAST, following)


def _next_point(plan: Plan, done: int) -> int | None:
    if plan.total_done is not None and done >= plan.total_done:
        return None
    return plan.block_end(done) or done + 1


def _lane_gaps(state: HeatState, lane: LaneState, ahead: Sequence[LaneState]) -> LaneGaps:
    """The gaps of a lane behind those before it in the running order, the best first; some may share its place."""
    better = next((other for other in reversed(ahead) if other.place < lane.place), None)
    if better is None or not lane.status.has_result:
        return LaneGaps(to_leader=None, to_next=None)
    to_next = _numbers(state, lane, better)
    return LaneGaps(to_leader=to_next if better is ahead[0] else _numbers(state, lane, ahead[0]), to_next=to_next)


def _numbers(state: HeatState, lane: LaneState, other: LaneState) -> GapNumbers:
    behind = work_ms(state.plan, other.tally.done) - work_ms(state.plan, lane.tally.done)
    seconds = _seconds(state, lane, other)
    return GapNumbers(
        lane=other.lane,
        reps=max(0, other.scored_reps - lane.scored_reps),
        work_ms=max(0, behind),
        seconds=None if seconds is None or seconds.behind_ms < 0 else seconds,
    )


def _seconds(state: HeatState, lane: LaneState, other: LaneState) -> Gap | None:
    """Between two whose results are times, the gap is the difference of the times."""
    if lane.finish_ms is not None and other.finish_ms is not None:
        behind_ms = lane.finish_ms - other.finish_ms
        return Gap(behind_ms=behind_ms, precision=Precision.EXACT, point=lane.tally.done)
    return gap_at(lane_path(state, lane), lane_path(state, other), state.clock_ms)
