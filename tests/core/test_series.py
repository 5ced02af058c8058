"""A division from its first event to the last, with cuts and tables that change."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from core.standing_samples import LOW_POINT, TEN_STEP, entrants, line
from tallywire.core.ranking.cuts import Cut, CutReason, CutTies
from tallywire.core.ranking.points import PointsTable, ScaledTable, StepTable, TiePolicy
from tallywire.core.ranking.series import EventPlan, EventResults, from_event_on, run_series
from tallywire.core.ranking.standing import Deduction, Entrant, StandingRules
from tallywire.core.ranking.tie_rules import Order

FINAL = StepTable(first=50, step=20)
PLANS = (
    EventPlan(event="one", table=TEN_STEP),
    EventPlan(event="two", table=TEN_STEP, cut=Cut(size=2)),
    EventPlan(event="final", table=FINAL),
)


def done(order: str, *, out: str = "", complete: bool = True) -> EventResults:
    """An event's results: the entries in their order, those without a result apart."""
    return EventResults(keys={name: (n,) for n, name in enumerate(order)}, no_result=frozenset(out), complete=complete)


ONE_AND_TWO = {"one": done("ABCD"), "two": done("BADC")}
"""After two: A 190 and B 190, C 150, D 150; B was better in event two."""


def test_a_cut_changes_the_field_and_the_table() -> None:
    """After event two the best two go on; the final has its own table and places the two alone."""
    series = run_series(entrants("ABCD"), PLANS, {**ONE_AND_TWO, "final": done("CADB")})
    assert series.field == ("A", "B")
    assert [(each.entry, each.goes_on) for each in series.cuts["two"]] == [
        ("B", True),
        ("A", True),
        ("D", False),
        ("C", False),
    ]
    assert {name: (each.place, int(each.points)) for name, each in series.scores[2].scores.items()} == {
        "A": (1, 50),
        "B": (2, 30),
    }
    assert line(series.rows) == "1 A 240, 2 B 220, 3 D 150, 4 C 150"


def test_before_an_event_is_complete_there_is_no_cut() -> None:
    """While the event before the cut still runs everyone is in, and the standing is as it stands."""
    series = run_series(entrants("ABCD"), PLANS, {"one": done("ABCD"), "two": done("DC", complete=False)})
    assert (series.field, series.cuts) == (("A", "B", "C", "D"), {})
    assert line(series.rows) == "1 D 170, 2 C 170, 3 A 100, 4 B 90"


def test_an_amended_result_makes_the_cut_anew() -> None:
    """With event two amended the cut is made anew, and what others did in the final does not count for them."""
    results = {"one": done("ABCD"), "two": done("CABD"), "final": done("BAC")}
    series = run_series(entrants("ABCD"), PLANS, results)
    assert series.field == ("A", "C")
    assert line(series.rows) == "1 A 240, 2 C 210, 3 B 170, 4 D 140"


def test_a_cut_sees_the_deductions_given_before_it() -> None:
    """Points deducted up to the event decide the cut; points deducted in the final no longer do."""
    others = entrants("BCD")
    given = {name: Deduction(points=Fraction(60), reason="kit", event=name) for name in ("", "one", "two", "final")}
    for name in ("", "one", "two"):
        field = [Entrant(entry="A", deductions=(given[name],)), *others]
        assert run_series(field, PLANS, ONE_AND_TWO).field == ("B", "D")
    after = run_series([Entrant(entry="A", deductions=(given["final"],)), *others], PLANS, ONE_AND_TWO)
    assert after.field == ("A", "B")
    assert line(after.rows) == "1 B 190, 2 A 130, 3 D 150, 4 C 150"


def test_who_withdrew_from_the_competition_takes_nobodys_place() -> None:
    """From the event it left after on, the next one goes on in its place; a later withdrawal changes no cut."""
    assert run_series(entrants("ABCD"), PLANS, ONE_AND_TWO, withdrawn={"B": "one"}).field == ("A", "D")
    left = run_series(entrants("ABCD"), PLANS, ONE_AND_TWO, withdrawn={"B": "two"})
    assert left.field == ("A", "D")
    assert [each.reason for each in left.cuts["two"] if each.entry == "B"] == [CutReason.UNAVAILABLE]
    assert line(left.rows) == "1 A 190, 2 D 150, 3 B 190, 4 C 150"
    assert run_series(entrants("ABCD"), PLANS, ONE_AND_TWO, withdrawn={"B": "final"}).field == ("A", "B")


def test_two_cuts_after_each_other() -> None:
    """Each cut takes from those who survived the one before: three level on 180, parted by count-back and the last
    event.
    """
    plans = [
        EventPlan(event="one", table=TEN_STEP, cut=Cut(size=3)),
        EventPlan(event="two", table=TEN_STEP, cut=Cut(size=2)),
        EventPlan(event="three", table=TEN_STEP),
    ]
    results = {"one": done("ABCD"), "two": done("CBA"), "three": done("AC")}
    series = run_series(entrants("ABCD"), plans, results)
    assert [row.survived for row in series.rows] == [2, 2, 1, 0]
    assert line(series.rows) == "1 A 280, 2 C 270, 3 B 180, 4 D 70"
    assert [each.entry for each in series.cuts["two"]] == ["C", "A", "B"]


def test_a_scaled_table_goes_by_the_field_still_in() -> None:
    """After a cut to two the scaled table spreads over two places, the list over all entries before."""
    table = ScaledTable(table=PointsTable((100, 60, 40, 10)), full_field=4)
    plans = [replace(plan, table=table) for plan in PLANS]
    series = run_series(entrants("ABCD"), plans, {**ONE_AND_TWO, "final": done("AB")})
    assert [int(series.scores[0].scores[name].points) for name in "ABCD"] == [100, 60, 40, 10]
    assert [int(series.scores[2].scores[name].points) for name in "AB"] == [100, 10]


def test_no_result_earns_nothing_and_may_have_to_count() -> None:
    """Without a result there are no points, after all who have one; a score that must count stays in."""
    banned = EventResults(
        keys={"A": (1,), "B": (2,), "C": (0,)}, no_result=frozenset("CD"), must_count=frozenset("C"), complete=True
    )
    rules = StandingRules(drop_worst=1)
    series = run_series(entrants("ABCD"), PLANS[:1], {"one": banned}, rules)
    assert line(series.rows) == "1 A 100, 2 B 90, 3 C 0, 3 D 0"
    assert [row.cells[0].has_result for row in series.rows] == [True, True, False, False]
    second = run_series(entrants("ABCD"), PLANS[:2], {"one": banned, "two": done("CDAB")}, rules)
    assert line(second.rows[:2]) == "1 A 100, 2 D 90"
    assert {row.entry: [cell.dropped for cell in row.cells] for row in second.rows}["C"] == [False, True]


def test_places_added_up_and_shared_by_the_mean() -> None:
    """The fewest points win: ties share the mean, and no result is one more than the field (A4.2, A7 at sea)."""
    plan = EventPlan(event="one", table=LOW_POINT, ties=TiePolicy.MEAN)
    tied = EventResults(keys={"A": (1,), "B": (1,), "C": (2,)}, no_result=frozenset("D"), complete=True)
    series = run_series(entrants("ABCD"), [plan], {"one": tied}, StandingRules(order=Order.FEWEST))
    assert line(series.rows) == "1 A 3/2, 1 B 3/2, 3 C 3, 4 D 5"


def test_a_cut_to_nobody_leaves_nobody_in() -> None:
    """When all are level and none of the level go on, later results are scored for nobody."""
    plans = [EventPlan(event="one", table=TEN_STEP, cut=Cut(size=1, ties=CutTies.NONE)), PLANS[2]]
    level = EventResults(keys={"A": (1,), "B": (1,)}, complete=True)
    series = run_series(entrants("AB"), plans, {"one": level, "final": done("AB")})
    assert (series.field, dict(series.scores[1].scores)) == ((), {})
    assert line(series.rows) == "1 A 100, 1 B 100"


def test_events_that_are_not_planned_are_refused() -> None:
    """A deduction or a withdrawal at an unknown event is an error that names it."""
    lost = Entrant(entry="A", deductions=(Deduction(points=Fraction(1), reason="kit", event="thre"),))
    with pytest.raises(ValueError, match="found event thre, expected one of final, one, two"):
        run_series([lost], PLANS, {})
    with pytest.raises(ValueError, match="found event four"):
        run_series(entrants("A"), PLANS, {}, withdrawn={"A": "four"})


def test_what_changes_from_an_event_on() -> None:
    """Each event has what the latest change up to it names; a change at an unknown event is refused."""
    tables = from_event_on({"three": FINAL, "five": TEN_STEP}, ("one", "two", "three", "four", "five"), LOW_POINT)
    assert tables == {"one": LOW_POINT, "two": LOW_POINT, "three": FINAL, "four": FINAL, "five": TEN_STEP}
    with pytest.raises(ValueError, match="found a change from six on, expected one of one, two"):
        from_event_on({"six": 1}, ("one", "two"), 0)
