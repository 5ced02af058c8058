"""The fold: from facts to the state of the heat."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from tallywire.core.facts import Fact, HeatEnded, HeatStarted, ShowFact
from tallywire.core.facts.ledger import Ledger
from tallywire.core.fold.conduct import HANDLERS as CONDUCT
from tallywire.core.fold.conduct import Conduct, conduct_of, ruled
from tallywire.core.fold.moments import clock_moments
from tallywire.core.formats import FORMATS
from tallywire.core.formats.base import Limits, Outcome, Status, Tally
from tallywire.core.model.competition import Competition, Entry, Event, Heat
from tallywire.core.model.workout import Mark, Plan, Position
from tallywire.core.ranking.places import places


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
    conduct: Conduct
    outcome: Outcome
    position: Position
    place: int
    place_shared: bool
    gap_leader: int
    gap_next: int
    splits: Mapping[Mark, int]

    @property
    def scored_reps(self) -> int:
        """What the ranking counts, penalties taken off."""
        return self.outcome.scored_reps

    @property
    def reps_to_go(self) -> int | None:
        """Scored reps left of fixed work; None where the work has no end."""
        return self.outcome.reps_to_go

    @property
    def finish_ms(self) -> int | None:
        """The time of the result, penalties added; None for who has none."""
        return self.outcome.result_ms

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


class _Folded:
    """What one lane's facts fold into, kept until a fact touches the lane. A standing asks for no splits."""

    def __init__(self, plan: Plan, tally: Tally, conduct: Conduct) -> None:
        self.plan = plan
        self.tally = tally
        self.conduct = conduct

    @cached_property
    def splits(self) -> Mapping[Mark, int]:
        """When each station end was passed."""
        return _splits(self.plan, self.tally)


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
        self._folded: dict[int, _Folded] = {}
        self._final: dict[int, Outcome] = {}

    @cached_property
    def plan(self) -> Plan:
        """The arithmetic of the workout."""
        return self.format.plan(self.event.workout)

    @cached_property
    def moments(self) -> tuple[int, ...]:
        """The times on the heat clock at which the heat may change without a fact."""
        return clock_moments(self.event)

    @property
    def until_ms(self) -> int:
        """When counting stops: the time cap, or the end of the heat if that came first."""
        cap = self.event.workout.time_cap_ms
        return cap if self.ended_ms is None else min(cap, self.ended_ms)

    def add(self, fact: Fact) -> None:
        """Take a fact, in any order."""
        touched = self.ledger.add(fact)
        for lane in touched:
            if lane is None:
                self._settle_heat()
            else:
                self._folded.pop(lane, None)
                self._final.pop(lane, None)

    def fill(self, facts: Sequence[Fact]) -> None:
        """Take many facts at once, in any order."""
        self.ledger.fill(facts)
        self._folded.clear()
        self._final.clear()
        self._settle_heat()

    def tally(self, lane: int) -> Tally:
        """Give one lane's tally."""
        return self._lane(lane).tally

    def conduct(self, lane: int) -> Conduct:
        """Give one lane's conduct."""
        return self._lane(lane).conduct

    def splits(self, lane: int) -> Mapping[Mark, int]:
        """Give the times of the station ends one lane has passed."""
        return self._lane(lane).splits

    def outcome(self, lane: int, clock_ms: int) -> Outcome:
        """Judge one lane as of `clock_ms`. Once the heat is over, a result stays as it is and is kept."""
        if not self.over(clock_ms) or self.started is None:
            return self._judge(lane, clock_ms)
        if lane not in self._final:
            self._final[lane] = self._judge(lane, clock_ms)
        return self._final[lane]

    def _judge(self, lane: int, clock_ms: int) -> Outcome:
        conduct = self.conduct(lane)
        limits = Limits(
            until_ms=self.until_ms,
            over=self.over(clock_ms),
            started=self.started is not None,
            clock_ms=clock_ms,
            penalty_reps=conduct.penalty_reps,
            penalty_ms=conduct.penalty_ms,
        )
        return ruled(self.format.outcome(self.plan, self.tally(lane), limits), conduct)

    def over(self, clock_ms: int) -> bool:
        """Tell whether the heat has ended: by its officials or by the time cap."""
        return self.ended_ms is not None or clock_ms >= self.event.workout.time_cap_ms

    def state(self, clock_ms: int) -> HeatState:
        """Judge every lane as of `clock_ms` on the heat clock."""
        lanes: dict[int, LaneState] = {}
        for rivals in self._divisions():
            lanes |= _rank(self, {lane: self.outcome(lane, clock_ms) for lane in rivals})
        order = sorted(lanes, key=lambda lane: _running_order(lanes[lane]))
        return HeatState(
            heat=self.heat,
            event=self.event,
            plan=self.plan,
            started=self.started,
            ended_ms=self.ended_ms,
            over=self.over(clock_ms),
            clock_ms=clock_ms,
            leader=order[0] if order and lanes[order[0]].tally.done else None,
            order=tuple(order),
            lanes={lane: lanes[lane] for lane in self.heat.lanes},
        )

    def last_ms(self) -> int:
        """The latest heat clock among the facts that stand."""
        lanes = (self.ledger.standing(lane) for lane in (None, *self.heat.lanes))
        return max((facts[-1].at_ms for facts in lanes if facts), default=0)

    def _lane(self, lane: int) -> _Folded:
        folded = self._folded.get(lane)
        if folded is None:
            folded = self._folded[lane] = self._fold_lane(lane)
        return folded

    def _fold_lane(self, lane: int) -> _Folded:
        own: list[Fact] = []
        work: list[Fact] = []
        for fact in self.ledger.standing(lane):
            (own if type(fact) in CONDUCT else work).append(fact)
        conduct = conduct_of(own)
        until_ms = self.until_ms if conduct.withdrawn_ms is None else min(self.until_ms, conduct.withdrawn_ms)
        tally = self.format.tally(self.plan, work, until_ms=until_ms)
        return _Folded(self.plan, tally, conduct)

    def _settle_heat(self) -> None:
        facts = self.ledger.standing(None)
        started = [fact for fact in facts if isinstance(fact, HeatStarted)]
        ended = [fact.at_ms for fact in facts if isinstance(fact, HeatEnded)]
        self.started = started[-1] if started else None
        until_before = self.until_ms
        self.ended_ms = min(ended, default=None)
        self._final.clear()
        if self.until_ms != until_before:
            self._folded.clear()

    def _divisions(self) -> list[list[int]]:
        groups: dict[str, list[int]] = {}
        for lane in self.heat.lanes:
            groups.setdefault(self.competition.entry_on(self.heat, lane).division, []).append(lane)
        return list(groups.values())


def fold(competition: Competition, heat_id: str, facts: Iterable[Fact], clock_ms: int | None = None) -> HeatState:
    """Fold facts, in any order, into the state of a heat.

    Facts of other heats and of the show are passed over. Without `clock_ms` the clock stands at the latest fact.
    """
    book = HeatBook(competition, competition.heats[heat_id])
    for fact in facts:
        if fact.heat == heat_id and not isinstance(fact, ShowFact):
            book.add(fact)
    return book.state(book.last_ms() if clock_ms is None else clock_ms)


def _rank(book: HeatBook, outcomes: Mapping[int, Outcome]) -> dict[int, LaneState]:
    """Place the lanes of one division against each other."""
    place_of = places({lane: outcome.key for lane, outcome in outcomes.items()})
    sharing = Counter(place_of.values())
    score_at = {place_of[lane]: outcome.score for lane, outcome in outcomes.items()}
    lanes: dict[int, LaneState] = {}
    for lane, outcome in outcomes.items():
        place = place_of[lane]
        ahead = max((other for other in score_at if other < place), default=place)
        lanes[lane] = LaneState(
            lane=lane,
            entry=book.competition.entry_on(book.heat, lane),
            tally=book.tally(lane),
            conduct=book.conduct(lane),
            outcome=outcome,
            position=book.plan.position(book.tally(lane).done),
            place=place,
            place_shared=sharing[place] > 1,
            gap_leader=max(0, score_at[1] - outcome.score),
            gap_next=max(0, score_at[ahead] - outcome.score),
            splits=book.splits(lane),
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
