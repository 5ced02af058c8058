"""A trail of counted work read as a path through the plan: where a lane was at a time, and when it passed a point.

A trail is known at its facts and, between two facts, taken as linear; a stretch that touches a block credited as one is
known only at its two ends, so a point inside it is never guessed.

Times are integer milliseconds on the heat clock, points are units done (a fraction between two facts).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from enum import StrEnum
from operator import itemgetter

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.counting import judged_trail
from tallywire.core.model.workout import Credit, Plan

Trail = Sequence[tuple[int, int]]
"""(at_ms, done) whenever the count went up, rising in both."""
_AT_MS: Callable[[tuple[int, int]], int] = itemgetter(0)
_DONE: Callable[[tuple[int, int]], int] = itemgetter(1)
"""Take the time and the count out of a step of a trail."""


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


class Path:
    """A trail read as a path through the plan. `added_ms` is the penalty that results add to its times.

    A lane that is not `at_work` any more falls no further back.
    """

    def __init__(self, plan: Plan, trail: Trail, *, start_ms: int = 0, added_ms: int = 0, at_work: bool = True) -> None:
        self.plan = plan
        self.added_ms = added_ms
        self.at_work = at_work
        self.steps = [(start_ms, 0), *trail]

    def passed(self, point: float) -> tuple[int, Precision] | None:
        """When the path was at `point` for the first time; None when it has not come so far.

        Inside a block the time is that of the block's known beginning, as `at_last_mark`.
        """
        after = bisect_left(self.steps, point, key=_DONE)
        if after == len(self.steps):
            return None
        last_ms, last = self.steps[after]
        if last == point:
            return last_ms, Precision.EXACT
        first_ms, first = self.steps[after - 1]
        if touches_block(self.plan, first, last):
            return first_ms, Precision.AT_LAST_MARK
        share = (point - first) / (last - first)
        return round(first_ms + share * (last_ms - first_ms)), Precision.LINEAR

    def known_before(self, point: float) -> int:
        """The last point with a fact at or before `point`."""
        return self.steps[bisect_right(self.steps, point, key=_DONE) - 1][1]

    def seen_by(self, at_ms: int) -> int:
        """The last point with a fact by a time; the start before the first."""
        return self.steps[max(0, bisect_right(self.steps, at_ms, key=_AT_MS) - 1)][1]

    def at(self, at_ms: int) -> tuple[float, Precision]:
        """Where the path was at a time: the last fact's point once no later fact is known, or inside a block."""
        after = bisect_right(self.steps, at_ms, key=_AT_MS)
        first_ms, first = self.steps[max(0, after - 1)]
        if after in (0, len(self.steps)) or first_ms == at_ms:
            return first, Precision.EXACT
        last_ms, last = self.steps[after]
        if touches_block(self.plan, first, last):
            return first, Precision.AT_LAST_MARK
        share = (at_ms - first_ms) / (last_ms - first_ms)
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


def lane_path(state: HeatState, lane: LaneState) -> Path:
    """Read a lane's trail as results do: the finish at the judge's call, the penalty seconds known so far beside it.

    The path is kept with the lane's work.
    """
    start_ms = 0 if state.started is None else state.started.at_ms
    kept = lane.kept_of_work.get("path")
    if kept is None or kept[0] != start_ms:
        path = Path(
            state.plan,
            judged_trail(state.plan, lane.tally),
            start_ms=start_ms,
            added_ms=lane.conduct.penalty_ms if state.plan.total_done is not None else 0,
            at_work=lane.status in (Status.READY, Status.WORKING),
        )
        kept = lane.kept_of_work["path"] = (start_ms, path)
    found: Path = kept[1]
    return found
