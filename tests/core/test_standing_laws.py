"""Laws of the overall standing over random competitions, and the standing again by comparing two at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from core.standing_samples import LOW_POINT, TEN_STEP, places_of
from tallywire.core.ranking.places import event_places
from tallywire.core.ranking.points import FlooredTable, PointsTable, ScaledTable, StepTable, Table, TiePolicy, award
from tallywire.core.ranking.standing import (
    Deduction,
    Entrant,
    EventScores,
    Scored,
    StandingRow,
    StandingRules,
    deciding_rule,
    no_result_points,
    standing,
)
from tallywire.core.ranking.tie_rules import Order, TieRule

NOTHING = 9
"""Stands for no result in a random event."""

MOST_TABLES: list[Table] = [
    TEN_STEP,
    StepTable(first=3, step=1),
    PointsTable((10, 10, 5)),
    FlooredTable(table=PointsTable((9, 4)), least=2),
    ScaledTable(table=TEN_STEP, full_field=10),
]

rules_of = st.builds(
    StandingRules,
    order=st.sampled_from(Order),
    drop_worst=st.integers(0, 3),
    drop_from=st.integers(0, 4),
    ties=st.lists(
        st.sampled_from([rule for rule in TieRule if rule is not TieRule.SHARED]), max_size=3, unique=True
    ).map(tuple),
)


@dataclass(frozen=True)
class Meet:
    """A random competition: sort keys by entry for each event, each event's table, how ties share, and the rules."""

    field: tuple[Entrant, ...]
    events: tuple[dict[str, int], ...]
    tables: tuple[Table, ...]
    ties: TiePolicy
    rules: StandingRules

    def scores(self) -> list[EventScores]:
        """The events' scores."""
        return [self._event(index, keys) for index, keys in enumerate(self.events)]

    def rows(self) -> tuple[StandingRow, ...]:
        """The standing."""
        return standing(self.field, self.scores(), self.rules)

    def _event(self, index: int, keys: Mapping[str, int]) -> EventScores:
        lost = [entry for entry, key in keys.items() if key == NOTHING]
        placed = event_places([{entry: key for entry, key in keys.items() if key != NOTHING}], no_result=lost)
        size = len(self.field)
        nothing = dict.fromkeys(lost, no_result_points(self.rules.order, size))
        points = award(placed, self.tables[index], ties=self.ties, field=size, no_result=nothing)
        return EventScores(
            event=f"e{index}",
            scores={
                entry: Scored(place=placed[entry], points=points[entry], has_result=entry not in lost) for entry in keys
            },
        )


_KEY = st.sampled_from([0, 1, 2, 3, 4, NOTHING, None])
_KEYS = {count: st.lists(st.lists(_KEY, min_size=count, max_size=count), max_size=5) for count in range(2, 6)}
_COUNT, _TABLE, _TIES = st.integers(2, 5), st.sampled_from(MOST_TABLES), st.sampled_from(TiePolicy)
_FEW = st.integers(0, 2).map(Fraction)
_DEDUCTIONS = st.lists(st.builds(Deduction, points=_FEW, reason=st.just("kit")), max_size=1).map(tuple)
"""Made once: to make a strategy costs more than to draw from it."""


@st.composite
def meets(draw: st.DrawFn) -> Meet:
    """Two to five entries, up to five events with ties, without some results and with some scores yet to come."""
    names = [f"n{index}" for index in range(draw(_COUNT))]
    rules = draw(rules_of)
    drawn = draw(_KEYS[len(names)])
    events = [{name: key for name, key in zip(names, keys, strict=True) if key is not None} for keys in drawn]
    most = rules.order is Order.MOST
    return Meet(
        field=tuple(Entrant(entry=name, before=draw(_FEW), deductions=draw(_DEDUCTIONS)) for name in names),
        events=tuple(events),
        tables=tuple(draw(_TABLE) if most else LOW_POINT for _ in events),
        ties=draw(_TIES),
        rules=rules,
    )


@given(meets())
def test_the_standing_is_a_ranking(meet: Meet) -> None:
    """Every place is one more than the number of rows before it, shared only by those no rule parts."""
    rows = meet.rows()
    assert [row.entry for row in sorted(rows, key=lambda row: row.place)] == [row.entry for row in rows]
    for row in rows:
        assert row.place == 1 + sum(other.place < row.place for other in rows)
        level = [other for other in rows if other is not row and deciding_rule(row, other) is TieRule.SHARED]
        assert {other.place for other in level} <= {row.place}
        assert row.shared == bool(level) == any(other.place == row.place for other in rows if other is not row)


@given(meets())
def test_the_rule_named_is_the_last_one_needed(meet: Meet) -> None:
    """A row names the rule that separates it from the last level entry, and none when it is alone on its points."""
    order = [None, *meet.rules.ties, TieRule.SHARED]
    rows = meet.rows()
    for row in rows:
        needed = [order.index(deciding_rule(row, other)) for other in rows if other is not row]
        assert row.decided_by is order[max(needed)]


@given(meets(), st.randoms(use_true_random=False))
def test_the_order_of_the_entries_does_not_matter(meet: Meet, random: Random) -> None:
    """The same entries and scores in any order have the same rows."""
    field = list(meet.field)
    random.shuffle(field)
    events = [replace(event, scores=dict(sorted(event.scores.items(), reverse=True))) for event in meet.scores()]
    again = {row.entry: row for row in standing(field, events, meet.rules)}
    assert again == {row.entry: row for row in meet.rows()}


@given(meets())
def test_dropping_is_the_best_for_the_entry(meet: Meet) -> None:
    """No other choice of as many events would give a better total: every one is tried."""
    pick = max if meet.rules.order is Order.MOST else min
    for row in meet.rows():
        dropped = sum(cell.dropped for cell in row.cells)
        expected = (
            min(meet.rules.drop_worst, max(len(row.cells) - 1, 0)) if len(row.cells) >= meet.rules.drop_from else 0
        )
        assert dropped == expected
        best = pick(sum(cell.points for cell in kept) for kept in combinations(row.cells, len(row.cells) - dropped))
        lost = sum(each.points for each in row.deductions)
        assert row.total == row.before + best + meet.rules.order.sign * lost


@given(meets())
def test_what_counts_is_on_average_no_worse_than_everything(meet: Meet) -> None:
    """The mean of the events that count is at least as good as the mean of all events."""
    sign = meet.rules.order.sign
    for row in meet.rows():
        counted = [cell.points for cell in row.cells if not cell.dropped]
        everything = [cell.points for cell in row.cells]
        assert sign * sum(counted) * len(everything) <= sign * sum(everything) * len(counted)


@given(st.data(), meets())
def test_doing_better_never_worsens_the_standing(data: st.DataObject, meet: Meet) -> None:
    """An entry that does better in one event, with the others as before, stands no worse, whatever the rules.

    This holds for every table that does not rise; see also the test of what is dropped among equal points.
    """
    held = [index for index, keys in enumerate(meet.events) if keys]
    if not held:
        return
    index = data.draw(st.sampled_from(held))
    entry = data.draw(st.sampled_from(sorted(meet.events[index])))
    key = data.draw(st.integers(-1, meet.events[index][entry]))
    better = {**meet.events[index], entry: key}
    events = (*meet.events[:index], better, *meet.events[index + 1 :])
    assert places_of(replace(meet, events=events).rows())[entry] <= places_of(meet.rows())[entry]


@given(meets())
def test_the_standing_by_comparing_two_at_a_time(meet: Meet) -> None:
    """A place is one more than the number of entries that beat it, rule by rule as a rulebook words them."""
    rows = meet.rows()
    for row in rows:
        assert row.place == 1 + sum(_beats(other, row, meet.rules) for other in rows)


def _beats(one: StandingRow, other: StandingRow, rules: StandingRules) -> bool:
    sign = 1 if rules.order is Order.MOST else -1
    if one.total != other.total:
        return sign * one.total > sign * other.total
    verdicts = (_verdict(rule, one, other, sign) for rule in rules.ties)
    return next((verdict for verdict in verdicts if verdict), 0) > 0


def _verdict(rule: TieRule, one: StandingRow, other: StandingRow, sign: int) -> Fraction | int:
    """Above zero: the first stands better by this rule."""
    if rule is TieRule.LAST_EVENT:
        return _last(other) - _last(one)
    if rule is TieRule.LATEST_EVENTS:
        gaps = [sign * (mine.points - theirs.points) for mine, theirs in zip(one.cells, other.cells, strict=True)]
        return next((gap for gap in reversed(gaps) if gap), 0)
    if rule is TieRule.BEST_SCORES:
        mine, theirs = ([sign * cell.points for cell in row.cells if not cell.dropped] for row in (one, other))
        return next((a - b for a, b in zip(sorted(mine)[::-1], sorted(theirs)[::-1], strict=True) if a != b), 0)
    counts = (_times(one, place, rule) - _times(other, place, rule) for place in range(1, 7))
    return next((gap for gap in counts if gap), 0)


def _last(row: StandingRow) -> int:
    return (row.cells[-1].place or 99) if row.cells else 0


def _times(row: StandingRow, place: int, rule: TieRule) -> int:
    everything, scoring = rule is TieRule.COUNT_BACK_ALL, rule is TieRule.COUNT_BACK_SCORING
    counted = [cell for cell in row.cells if everything or not cell.dropped]
    return sum(cell.place == place and cell.has_result and not (scoring and cell.points == 0) for cell in counted)
