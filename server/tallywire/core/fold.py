"""The fold: from facts to the state of the heat."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from tallywire.core.competition import Competition, Entry, Event, Heat
from tallywire.core.facts import Fact, HeatEnded, HeatStarted
from tallywire.core.formats import FORMATS
from tallywire.core.formats.base import Limits, Outcome, Status, Tally
from tallywire.core.ledger import Ledger
from tallywire.core.ranking import places
from tallywire.core.workout import Mark, Plan, Position


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneState:
    """One lane as of now. Gaps are in scored reps: how many it trails by, never negative.

    `place` counts among the entries of the same division in this heat, as if the heat ended now.
    `gap_next` is to the nearest better place. Both gaps are 0 for a leader.
    `splits` holds the time of every station end passed.
    """

    lane: int
    entry: Entry
    tally: Tally
    outcome: Outcome
    position: Position
    place: int
    place_shared: bool
    points: int
    scored_reps: int
    reps_to_go: int | None
    gap_leader: int
    gap_next: int
    finish_ms: int | None
    splits: Mapping[Mark, int]

    @property
    def status(self) -> Status:
        """Where the lane stands."""
        return self.outcome.status


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatState:
    """The heat as of `clock_ms`. `order` lists lanes from the best to the last; `leader` is None before any work."""

    heat: Heat
    event: Event
    plan: Plan
    started: HeatStarted | None
    ended_ms: int | None
    over: bool
    clock_ms: int
    leader: int | None
    order: tuple[int, ...]
    lanes: Mapping[int, LaneState]

    @property
    def round(self) -> int:
        """The round the leader is in; 0 before any work."""
        return 0 if self.leader is None else self.lanes[self.leader].position.round


class HeatBook:
    """The facts of one heat and the tallies they fold into; only the lanes a fact touches are folded again."""

    def __init__(self, competition: Competition, heat: Heat) -> None:
        self.competition = competition
        self.heat = heat
        self.event = competition.event_of(heat)
        self.format = FORMATS[self.event.workout.format]
        self.ledger = Ledger()
        self.started: HeatStarted | None = None
        self.ended_ms: int | None = None
        self._tallies: dict[int, Tally] = {}

    @cached_property
    def plan(self) -> Plan:
        """The arithmetic of the workout."""
        return self.format.plan(self.event.workout)

    @property
    def until_ms(self) -> int:
        """When counting stops: the time cap, or the end of the heat if that came first."""
        cap = self.event.workout.time_cap_ms
        return cap if self.ended_ms is None else min(cap, self.ended_ms)

    def add(self, fact: Fact) -> None:
        """Take a fact, in any order."""
        touched = self.ledger.add(fact)
        for lane in touched - {None}:
            self._tallies.pop(lane, None)  # type: ignore[arg-type]
        if None in touched:
            self._settle_heat()

    def tally(self, lane: int) -> Tally:
        """Give one lane's tally."""
        found = self._tallies.get(lane)
        if found is None:
            facts = self.ledger.standing(lane)
            found = self._tallies[lane] = self.format.tally(self.plan, facts, until_ms=self.until_ms)
        return found

    def state(self, clock_ms: int) -> HeatState:
        """Judge every tally as of `clock_ms` on the heat clock."""
        over = self.ended_ms is not None or clock_ms >= self.event.workout.time_cap_ms
        limits = Limits(self.until_ms, over, self.started is not None)
        tallies = {lane: self.tally(lane) for lane in self.heat.lanes}
        outcomes = {lane: self.format.outcome(self.plan, tally, limits) for lane, tally in tallies.items()}
        lanes: dict[int, LaneState] = {}
        for rivals in self._divisions():
            lanes |= _rank(self, {lane: (tallies[lane], outcomes[lane]) for lane in rivals})
        order = sorted(lanes, key=lambda lane: _running_order(lanes[lane]))
        return HeatState(
            heat=self.heat,
            event=self.event,
            plan=self.plan,
            started=self.started,
            ended_ms=self.ended_ms,
            over=over,
            clock_ms=clock_ms,
            leader=order[0] if order and tallies[order[0]].done else None,
            order=tuple(order),
            lanes={lane: lanes[lane] for lane in self.heat.lanes},
        )

    def last_ms(self) -> int:
        """The latest heat clock among the facts that stand."""
        lanes = (self.ledger.standing(lane) for lane in (None, *self.heat.lanes))
        return max((facts[-1].at_ms for facts in lanes if facts), default=0)

    def _settle_heat(self) -> None:
        facts = self.ledger.standing(None)
        started = [fact for fact in facts if isinstance(fact, HeatStarted)]
        ended = [fact.at_ms for fact in facts if isinstance(fact, HeatEnded)]
        self.started = started[-1] if started else None
        until_before = self.until_ms
        self.ended_ms = min(ended, default=None)
        if self.until_ms != until_before:
            self._tallies.clear()

    def _divisions(self) -> list[list[int]]:
        groups: dict[str, list[int]] = {}
        for lane in self.heat.lanes:
            groups.setdefault(self.competition.entry_on(self.heat, lane).division, []).append(lane)
        return list(groups.values())


def fold(competition: Competition, heat_id: str, facts: Iterable[Fact], clock_ms: int | None = None) -> HeatState:
    """Fold facts, in any order, into the state of a heat.

    Facts of other heats are passed over. Without `clock_ms` the clock stands at the latest fact.
    """
    book = HeatBook(competition, competition.heats[heat_id])
    for fact in facts:
        if fact.heat == heat_id:
            book.add(fact)
    return book.state(book.last_ms() if clock_ms is None else clock_ms)


def _rank(book: HeatBook, rivals: Mapping[int, tuple[Tally, Outcome]]) -> dict[int, LaneState]:
    place_of = places({lane: outcome.key for lane, (_, outcome) in rivals.items()})
    sharing = Counter(place_of.values())
    positions = {lane: book.plan.position(tally.done) for lane, (tally, _) in rivals.items()}
    scored_at = {place_of[lane]: positions[lane].scored for lane in rivals}
    leader_scored, total = scored_at[1], book.plan.total_scored
    table = book.competition.points[book.event.points]
    lanes: dict[int, LaneState] = {}
    for lane, (tally, outcome) in rivals.items():
        place, scored = place_of[lane], positions[lane].scored
        ahead = max((other for other in scored_at if other < place), default=place)
        lanes[lane] = LaneState(
            lane=lane,
            entry=book.competition.entry_on(book.heat, lane),
            tally=tally,
            outcome=outcome,
            position=positions[lane],
            place=place,
            place_shared=sharing[place] > 1,
            points=0 if outcome.status is Status.WITHDRAWN else table.worth(place),
            scored_reps=scored,
            reps_to_go=None if total is None else total - scored,
            gap_leader=max(0, leader_scored - scored),
            gap_next=max(0, scored_at[ahead] - scored),
            finish_ms=outcome.result_ms,
            splits=_splits(book.plan, tally),
        )
    return lanes


def _running_order(lane: LaneState) -> tuple[tuple[int, ...], int, int, int]:
    """Order lanes that share a place by work inside a block, then by who got there first."""
    return (lane.outcome.key, -lane.tally.done, lane.tally.reached_ms, lane.lane)


def _splits(plan: Plan, tally: Tally) -> dict[Mark, int]:
    splits: dict[Mark, int] = {}
    trail = iter(tally.trail)
    at_ms, reached = 0, 0
    for mark, end in plan.station_ends(tally.done):
        while reached < end:
            at_ms, reached = next(trail)
        splits[mark] = at_ms
    return splits
