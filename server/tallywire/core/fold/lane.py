"""One lane of a heat: its standing facts, what they fold into, and how that is judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, NamedTuple, TypeVar, cast

from tallywire.core.facts import Fact
from tallywire.core.fold.conduct import HANDLERS as CONDUCT
from tallywire.core.fold.conduct import Conduct, conduct_of, ruled
from tallywire.core.fold.heat import LaneState
from tallywire.core.fold.setup import HeatSetup
from tallywire.core.formats.base import Limits, Outcome, Status, Tally
from tallywire.core.formats.counting import judged_trail, passed_ms
from tallywire.core.model.workout import Mark, Position

T = TypeVar("T")
Placed = tuple[int, bool, int, int]
"""A place, whether it is shared, and the gaps to the leader and to the next better place."""


class _Beginning(NamedTuple):
    """What the first so many facts of a lane add up to; nobody has withdrawn in them.

    `splits` are those of `trail`, None where nobody has asked for them.
    """

    facts: int
    taken: Conduct
    tally: Tally
    trail: Sequence[tuple[int, int]]
    splits: Mapping[Mark, int] | None


class FoldedLane:
    """What stands on a lane. It never changes: a fact about the lane makes another one.

    `before` is the lane as it was: where facts only came after its own, it is counted on from there.

    What is asked for is worked out once and kept; two threads that ask at the same time find the same.
    """

    def __init__(
        self, setup: HeatSetup, lane: int, facts: Sequence[Fact], *, until_ms: int, before: FoldedLane | None = None
    ) -> None:
        self.lane = lane
        self.entry = setup.entries[lane]
        self._plan = setup.plan
        self._counting = setup.counting
        self._facts = facts
        self._until_ms = until_ms
        self._begun = None if before is None else before._as_beginning_of(facts, until_ms)
        self._outcomes: dict[tuple[bool, bool, int], Outcome] = {}
        self._state: tuple[Outcome, Placed, LaneState] | None = None
        self._kept: dict[str, tuple[Outcome, Any]] = {}

    @cached_property
    def conduct(self) -> Conduct:
        """What the conduct facts add up to. A lane that finished before its withdrawal has not withdrawn."""
        taken = self._taken
        if taken.withdrawn_ms is None or not self._is_home_by(taken.withdrawn_ms):
            return taken
        return replace(taken, withdrawn_ms=None)

    @cached_property
    def _taken(self) -> Conduct:
        """The conduct facts as they were taken."""
        if self._begun is not None and not any(type(fact) in CONDUCT for fact in self._facts[self._begun.facts :]):
            return self._begun.taken
        return conduct_of([fact for fact in self._facts if type(fact) in CONDUCT])

    def _as_beginning_of(self, facts: Sequence[Fact], until_ms: int) -> _Beginning | None:
        """Give what is known of this lane, if these facts are its own and further ones behind them.

        A withdrawal bounds what counts, so a lane that has one is always counted from the first fact.
        """
        tally, taken, own = self.__dict__.get("tally"), self.__dict__.get("_taken"), len(self._facts)
        if tally is None or taken is None or taken.withdrawn_ms is not None or until_ms != self._until_ms:
            return None
        if facts[:own] != self._facts:
            return None
        return _Beginning(own, taken, tally, self._trail, self.__dict__.get("splits"))

    def _is_home_by(self, at_ms: int) -> bool:
        """Whether all was done by then, and still is by what was put right later."""
        work = [fact for fact in self._facts if type(fact) not in CONDUCT]
        return all(self._is_done(facts, at_ms) for facts in ([fact for fact in work if fact.at_ms <= at_ms], work))

    def _is_done(self, work: Sequence[Fact], at_ms: int) -> bool:
        limits = Limits(until_ms=self._until_ms, over=False, started=True, clock_ms=at_ms)
        tally = self._counting.tally(self._plan, work, until_ms=min(self._until_ms, at_ms))
        return self._counting.outcome(self._plan, tally, limits).status is Status.FINISHED

    @cached_property
    def tally(self) -> Tally:
        """What the work facts add up to, up to the end of the heat or the withdrawal."""
        tally, late_ms = self._count(self.conduct.withdrawn_ms), self._taken.withdrawn_ms
        if late_ms != self.conduct.withdrawn_ms:
            tally.remarks.append(f"after the finish: Withdrawn at {late_ms} ms")
        return tally

    def _count(self, withdrawn_ms: int | None) -> Tally:
        if self._begun is not None and withdrawn_ms is None:
            further = [fact for fact in self._facts[self._begun.facts :] if type(fact) not in CONDUCT]
            tally = self._counting.tally_on(self._plan, self._begun.tally, further, until_ms=self._until_ms)
            if tally is not None:
                return tally
        until_ms = self._until_ms if withdrawn_ms is None else min(self._until_ms, withdrawn_ms)
        work = [fact for fact in self._facts if type(fact) not in CONDUCT]
        return self._counting.tally(self._plan, work, until_ms=until_ms)

    @cached_property
    def splits(self) -> Mapping[Mark, int]:
        """When each station end was passed.

        Where work was only added those from before hold, and are the same object until one more is passed.
        """
        begun, trail, ends = self._begun, self._trail, self._plan.station_ends(self.tally.done)
        known: Mapping[Mark, int] = {}
        if begun is not None and begun.splits is not None and trail[: len(begun.trail)] == begun.trail:
            known = begun.splits
        further = {mark: passed_ms(trail, end) for mark, end in ends[len(known) :]}
        return {**known, **further} if further else known

    @property
    def _trail(self) -> Sequence[tuple[int, int]]:
        """The steps of the count by which its times are judged."""
        return judged_trail(self._plan, self.tally) if self._counting.one_count else self.tally.trail

    @cached_property
    def position(self) -> Position:
        """Where the count stands in the work."""
        return self._plan.position(self.tally.done)

    def outcome(self, *, over: bool, started: bool, as_of_ms: int) -> Outcome:
        """Judge the lane as of the last moment that has passed: between two moments nothing is judged otherwise."""
        key = (over, started, as_of_ms)
        found = self._outcomes.get(key)
        if found is None:
            found = self._outcomes[key] = self._judge(over=over, started=started, as_of_ms=as_of_ms)
        return found

    def _judge(self, *, over: bool, started: bool, as_of_ms: int) -> Outcome:
        conduct = self.conduct
        limits = Limits(
            until_ms=self._until_ms,
            over=over,
            started=started,
            clock_ms=as_of_ms,
            penalty_reps=conduct.penalty_reps,
            penalty_ms=conduct.penalty_ms,
        )
        return ruled(self._counting.outcome(self._plan, self.tally, limits), conduct)

    def uncertain_ms(self, at_ms: int) -> int:
        """Give how far off the time of a fact can be that was at this time; 0 where nothing says so."""
        return max((fact.uncertain_ms or 0 for fact in self._facts if fact.at_ms == at_ms), default=0)

    def once(self, name: str, outcome: Outcome, make: Callable[[], T]) -> T:
        """Give what was made of the lane with this very outcome under a name, or make it and keep it."""
        found = self._kept.get(name)
        if found is None or found[0] is not outcome:
            found = self._kept[name] = (outcome, make())
        return cast(T, found[1])

    def state(self, outcome: Outcome, placed: Placed) -> LaneState:
        """Give the lane with its place; the same object again as long as nothing about it has changed."""
        kept = self._state
        if kept is not None and kept[0] is outcome and kept[1] == placed:
            return kept[2]
        made = self._make_state(outcome, placed)
        self._state = (outcome, placed, made)
        return made

    def _make_state(self, outcome: Outcome, placed: Placed) -> LaneState:
        place, shared, gap_leader, gap_next = placed
        return LaneState(
            lane=self.lane,
            entry=self.entry,
            tally=self.tally,
            conduct=self.conduct,
            outcome=outcome,
            position=self.position,
            place=place,
            place_shared=shared,
            gap_leader=gap_leader,
            gap_next=gap_next,
            splits=self.splits,
            kept_of_work=self.once("state", outcome, dict),
        )
