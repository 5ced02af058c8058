"""A live heat brought to every end it can have, by facts alone, and the standing after each end read off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from random import Random

from core.test_overall import CAP_MS, on, race, trials, with_event
from tallywire.core.clinching.before import division_before
from tallywire.core.clinching.prospects import Stakes
from tallywire.core.clinching.stakes import heat_stakes
from tallywire.core.facts import (
    CountCorrected,
    DidNotStart,
    Disqualified,
    Fact,
    Finished,
    HeatEnded,
    LaneFact,
    PointsDeducted,
    Withdrawn,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, CutAfter, Measure, Part
from tallywire.core.model.workout import Mark
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, PointsTable, Table, TiePolicy
from tallywire.core.ranking.series import Series
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order, TieRule
from tallywire.core.standings.in_event import event_rows
from tallywire.core.standings.overall import division_series

NOW_MS, WORK, HALF = 200_000, 22, 12
"""The live heat stands here; its work in scored reps, and the mark of its first score where it has two."""
LIVE = "live"
STATES = ("works", "home", "called", "out")


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """A competition in its live heat. `home` are lanes with work complete and when; `called` those called so.

    `working` are the lanes that are still at work.
    """

    competition: Competition
    facts: tuple[Fact, ...]
    home: Mapping[int, int]
    called: frozenset[int]
    working: tuple[int, ...]
    parts: bool

    def stakes(self) -> Stakes:
        """What the program says."""
        snapshot = CompetitionBook(self.competition, self.facts).at_clocks({LIVE: NOW_MS}, others_ms=10**9)
        own = snapshot.heats[LIVE]
        before = {"open": division_before(snapshot, "open", LIVE)}
        return heat_stakes(self.competition, own.state, before=before, rows=event_rows(snapshot, own))["open"]

    def ends(self, *, stopped: int | None = None) -> Iterator[Series]:
        """Every end: those at work end in any order, ties included; an uncalled finish stays or is called later.

        `stopped` withdraws and has no result. Of times in the same order only the first are brought about, because a
        place comes from the order alone (docs/scoring.md).
        """
        lanes = [lane for lane in (*self.working, *self.home) if lane not in (*self.called, stopped)]
        marks = _weak_orders(len(self.working)) if self.parts else [()]
        seen = set()
        for times in product(*(self._moments(lane, len(lanes)) for lane in lanes)):
            ends = dict(zip(lanes, times, strict=True))
            order = _levels([*({**self.home, **ends}).values()])
            if order not in seen:
                seen.add(order)
                yield from (self._standing(ends, mark, stopped) for mark in marks)

    def _moments(self, lane: int, count: int) -> list[int]:
        """When the time of a lane may be: as it is, on or between the times that are known, or later than all of them.

        There is room between two for as many as may be called later, one behind the other.

        A call may reach the server late, so one that is not there yet may be of any time since the work was complete.
        """
        later = [NOW_MS + 50_000 + 1_000 * level for level in range(count)]
        full = self.home.get(lane)
        if full is None:
            return later
        known = [at_ms for at_ms in sorted({*self.home.values()}) if at_ms >= full]
        behind = range(1, 1 + len({*self.home} - self.called))
        return [*known, *(at_ms + level for at_ms in known for level in behind), *later]

    def _standing(self, ends: Mapping[int, int], mark: Sequence[int], stopped: int | None) -> Series:
        facts = [*self.facts]
        for lane, level in zip(self.working, mark, strict=False):
            facts += [on(CountCorrected, LIVE, lane, NOW_MS + 1_000 * (level + 1), scored_reps=HALF, reason="mark")]
        for lane, at_ms in sorted(ends.items(), key=lambda each: each[1]):
            if lane in self.home and at_ms != self.home[lane]:
                facts.append(on(Finished, LIVE, lane, at_ms))
            elif lane not in self.home:
                facts.append(on(CountCorrected, LIVE, lane, at_ms, scored_reps=WORK, reason="sheet"))
        if stopped is not None and stopped not in self.home:
            facts.append(on(Withdrawn, LIVE, stopped, NOW_MS + 1))
        facts.append(HeatEnded(id="end", heat=LIVE, at_ms=CAP_MS - 1, sender="table-z", sequence=1))
        snapshot = CompetitionBook(self.competition, facts).at_clocks({LIVE: 10**9}, others_ms=10**9)
        return division_series(snapshot, "open")


def _levels(times: Sequence[int]) -> tuple[int, ...]:
    """The level of each time among those there are."""
    ordered = sorted({*times})
    return tuple(ordered.index(each) for each in times)


def _weak_orders(count: int) -> list[tuple[int, ...]]:
    """Every order of so many as levels, ties included."""
    rows = product(range(count), repeat=count)
    return [row for row in rows if {*row} == {*range(len({*row}))}]


def random_situation(seed: int) -> Situation:
    """Rules of every kind, one or two events before, and a heat with some home, some called, some out."""
    dice = Random(seed)
    parts = dice.random() < 0.25
    names = "abcd"[: 3 if parts else dice.choice([3, 4, 4])]
    base = trials(dice.choice([1, 2]), names)
    past = [*base.events]
    work = replace(base.events["e1"].workout, format="for_time", minimum_reps=dice.choice([0, 0, 0, 5]))
    live = replace(base.events["e1"], id=LIVE, name="Live", workout=work, ties=dice.choice([*TiePolicy]))
    if parts:
        mark = Part(id="mark", name="Mark", measure=Measure.TIME_AT, points="t", mark=Mark(round=1, station=3))
        whole = Part(id="whole", name="Whole", measure=Measure.RESULT, points="t")
        live = replace(live, parts=(mark, whole))
    order = dice.choice([Order.MOST, Order.MOST, Order.FEWEST])
    competition = replace(
        base,
        points={"t": _table(dice, order, len(names))},
        events={**base.events, LIVE: live},
        heats={**base.heats, LIVE: replace(base.heats["e1"], id=LIVE, event=LIVE, name="Live")},
        standing_rules=StandingRules(
            order=order,
            drop_worst=dice.choice([0, 0, 1]),
            ties=tuple(dice.sample([*TieRule][:-1], dice.randint(0, 2))),
        ),
        drop_disqualified=dice.random() < 0.5,
        cuts=(CutAfter(event=LIVE, cut=Cut(size=dice.choice([1, 2]), ties=dice.choice([*CutTies]))),),
    )
    for name in past:
        competition = with_event(competition, name, ties=dice.choice([*TiePolicy]), in_count_back=dice.random() < 0.8)
    if not parts:
        competition = with_event(competition, LIVE, in_count_back=dice.random() < 0.8)
    if dice.random() < 0.3:
        who, when = dice.choice(names), dice.choice([LIVE, past[-1]])
        competition = replace(
            competition,
            entries={**competition.entries, who: replace(competition.entries[who], left_after=when)},
        )
    return _with_facts(dice, competition, past, names, parts=parts)


def _table(dice: Random, order: Order, count: int) -> Table:
    if order is Order.FEWEST:
        return FormulaTable(Formula("place"))
    values = [10 * dice.randint(0, 5) for _ in range(count)]
    return PointsTable(tuple(values if dice.random() < 0.3 else sorted(values, reverse=True)))


def _with_facts(dice: Random, competition: Competition, past: Sequence[str], names: str, *, parts: bool) -> Situation:
    facts: list[Fact] = []
    for name in past:
        facts += race(name, [dice.randint(6, 9) for _ in names])
        if dice.random() < 0.2:
            facts.append(on(Disqualified, name, dice.randint(1, len(names)), reason="conduct"))
    if dice.random() < 0.2:
        facts.append(on(PointsDeducted, past[0], dice.randint(1, len(names)), points=5, reason="late"))
    facts += race(LIVE, [], end=False)
    states = {lane: dice.choices(STATES, [5, 2, 2, 1])[0] for lane in range(1, len(names) + 1)}
    home = {lane: dice.choice([150_000, 160_000, 170_000]) for lane, state in states.items() if state in STATES[1:3]}
    for lane, state in states.items():
        facts += _out(dice, lane) if state == "out" else []
    for lane, at_ms in home.items():
        if parts:
            facts.append(on(CountCorrected, LIVE, lane, at_ms - 90_000, scored_reps=HALF, reason="mark"))
        facts.append(on(CountCorrected, LIVE, lane, at_ms, scored_reps=WORK, reason="sheet"))
        facts += [on(Finished, LIVE, lane, at_ms)] if states[lane] == "called" else []
    return Situation(
        competition=competition,
        facts=tuple(facts),
        home=home,
        called=frozenset(lane for lane in home if states[lane] == "called"),
        working=tuple(lane for lane, state in states.items() if state == "works"),
        parts=parts,
    )


def _out(dice: Random, lane: int) -> list[Fact]:
    kinds: list[tuple[type[LaneFact], dict[str, str]]] = [
        (Withdrawn, {}),
        (Disqualified, {"reason": "conduct"}),
        (DidNotStart, {}),
    ]
    kind, more = dice.choice(kinds)
    return [on(kind, LIVE, lane, 1_000, **more)]
