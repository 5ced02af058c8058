"""A heat as judged from its facts and the moments that have passed; it holds until the next fact or moment."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from functools import cached_property
from typing import Any, TypeVar, cast

from tallywire.core.facts import Fact, HeatStarted
from tallywire.core.fold.heat import LaneState
from tallywire.core.fold.lane import FoldedLane, Placed
from tallywire.core.fold.setup import HeatSetup
from tallywire.core.formats.base import Outcome
from tallywire.core.ranking.places import places

T = TypeVar("T")


class FoldedHeat:
    """What the facts of a heat fold into. It never changes: the next fact makes another one, lanes shared.

    `facts` are those that stand about the heat itself, in order. `handed_on` goes from one fold of a heat to the next:
    what is in it, by name, is only a beginning, which whoever takes it up checks against the heat and replaces whole.
    """

    def __init__(  # noqa: PLR0913
        self,
        setup: HeatSetup,
        lanes: Mapping[int, FoldedLane],
        *,
        facts: Sequence[Fact],
        started: HeatStarted | None,
        ended_ms: int | None,
        handed_on: dict[str, Any] | None = None,
    ) -> None:
        self.handed_on = {} if handed_on is None else handed_on
        self.setup = setup
        self.lanes = lanes
        self.facts = facts
        self.started = started
        self.ended_ms = ended_ms
        self._judged: dict[int, JudgedHeat] = {}

    def judged(self, clock_ms: int) -> JudgedHeat:
        """Judge the heat as of a time on its clock.

        Between two moments, and after the end, the same object is given.
        """
        moments = self.setup.moments
        passed = bisect_right(moments, clock_ms) if self.ended_ms is None else len(moments)
        found = self._judged.get(passed)
        if found is None:
            found = self._judged[passed] = JudgedHeat(self, moments[passed - 1] if passed else 0)
        return found


class JudgedHeat:
    """A heat judged as of `as_of_ms`, the last of its moments that has passed.

    A lane is judged when it is asked for.
    """

    def __init__(self, folded: FoldedHeat, as_of_ms: int) -> None:
        # Not the fold itself, which keeps this: a ring of the two would wait for the collector of cycles.
        self._setup = folded.setup
        self._folded_lanes = folded.lanes
        self._started = folded.started is not None
        self.as_of_ms = as_of_ms
        self.over = folded.ended_ms is not None or as_of_ms >= folded.setup.event.workout.time_cap_ms
        self._kept: dict[str, Any] = {}

    def once(self, name: str, make: Callable[[], T]) -> T:
        """Give what was kept under this name, or make it and keep it. It may depend on nothing but this heat."""
        if name not in self._kept:
            self._kept[name] = make()
        return cast(T, self._kept[name])

    def outcome(self, lane: int) -> Outcome:
        """Judge one lane."""
        return self._folded_lanes[lane].outcome(over=self.over, started=self._started, as_of_ms=self.as_of_ms)

    @cached_property
    def lanes(self) -> Mapping[int, LaneState]:
        """Every lane with its place among its division."""
        found: dict[int, LaneState] = {}
        for rivals in self._setup.divisions.values():
            outcomes = {lane: self.outcome(lane) for lane in rivals}
            held = {lane for lane in rivals if self._folded_lanes[lane].conduct.held}
            for lane, placed in _placed(outcomes, held).items():
                found[lane] = self._folded_lanes[lane].state(outcomes[lane], placed)
        return {lane: found[lane] for lane in self._folded_lanes}

    @cached_property
    def order(self) -> tuple[int, ...]:
        """The lanes from the best to the last."""
        return tuple(sorted(self.lanes, key=lambda lane: _running_order(self.lanes[lane])))

    @property
    def leader(self) -> int | None:
        """The first lane; None before any work."""
        return self.order[0] if self.order and self.lanes[self.order[0]].tally.done else None


def _placed(outcomes: Mapping[int, Outcome], held: Collection[int]) -> dict[int, Placed]:
    """Place the lanes of one division against each other; no gap is measured to a lane under a medical hold."""
    place_of = places({lane: outcome.key for lane, outcome in outcomes.items()})
    sharing = Counter(place_of.values())
    score_at = {place_of[lane]: outcome.score for lane, outcome in outcomes.items() if lane not in held}
    shown = sorted(score_at)
    return {
        lane: (place, sharing[place] > 1, *_gaps(outcomes[lane].score, score_at, shown[: bisect_left(shown, place)]))
        for lane, place in place_of.items()
    }


def _gaps(score: int, score_at: Mapping[int, int], better: Sequence[int]) -> tuple[int, int]:
    """The gaps to the best and to the nearest of the better places."""
    if not better:
        return 0, 0
    return max(0, score_at[better[0]] - score), max(0, score_at[better[-1]] - score)


def _running_order(lane: LaneState) -> tuple[tuple[int, ...], int, int, int]:
    """Order lanes that share a place by work inside a block, then by which of them got there first."""
    return (lane.outcome.key, -lane.tally.done, lane.tally.reached_ms, lane.lane)
