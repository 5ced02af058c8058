"""Cuts: who goes on after a named event, and why."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.standing_samples import by_places, entrants
from tallywire.core.ranking.cuts import Cut, CutDecision, CutReason, CutTies, cut
from tallywire.core.ranking.standing import Entrant, StandingRules, standing
from tallywire.core.ranking.tie_rules import TieRule

LINES = {"A": (1, 1), "B": (2, 4), "C": (3, 3), "D": (4, 2), "E": (5, 5), "F": (6, 6)}
"""A 200; B, C and D 160 each: B and D have a second, D the better place in the last event; E 120; F 100."""

rows = standing(entrants(LINES), by_places(LINES))
level_rows = standing(entrants(LINES), by_places(LINES), StandingRules(ties=()))


def on(decisions: Sequence[CutDecision]) -> str:
    """The entries that go on, in the order of the standing."""
    return "".join(decision.entry for decision in decisions if decision.goes_on)


@pytest.mark.parametrize(
    ("size", "by_tie_rules", "keep_all", "none"),
    [
        (1, "A", "A", "A"),
        (2, "AD", "ADBC", "A"),
        (3, "ADB", "ADBC", "A"),
        (4, "ADBC", "ADBC", "ADBC"),
        (5, "ADBCE", "ADBCE", "ADBCE"),
        (6, "ADBCEF", "ADBCEF", "ADBCEF"),
        (9, "ADBCEF", "ADBCEF", "ADBCEF"),
    ],
)
def test_equal_points_across_the_line(size: int, by_tie_rules: str, keep_all: str, none: str) -> None:
    """Three are level on 160 behind A: each way to cut them, by hand."""
    assert on(cut(rows, Cut(size=size))) == by_tie_rules
    assert on(cut(rows, Cut(size=size, ties=CutTies.KEEP_ALL))) == keep_all
    assert on(cut(rows, Cut(size=size, ties=CutTies.NONE))) == none


def test_each_decision_has_its_reason() -> None:
    """The reason tells points from a tie rule, and which one, for those level across the line."""
    found = {each.entry: (each.place, each.goes_on, each.reason, each.rule) for each in cut(rows, Cut(size=2))}
    assert found == {
        "A": (1, True, CutReason.POINTS, None),
        "D": (2, True, CutReason.TIE_RULE, TieRule.LAST_EVENT),
        "B": (3, False, CutReason.TIE_RULE, TieRule.LAST_EVENT),
        "C": (4, False, CutReason.TIE_RULE, TieRule.COUNT_BACK),
        "E": (5, False, CutReason.POINTS, None),
        "F": (6, False, CutReason.POINTS, None),
    }


def test_who_no_rule_parts_goes_on() -> None:
    """Sharing the place across the line, all of them go on: nobody is drawn by lot."""
    decisions = cut(level_rows, Cut(size=2))
    assert on(decisions) == "ABCD"
    assert [each.reason for each in decisions] == [CutReason.POINTS, *[CutReason.LEVEL] * 3, *[CutReason.POINTS] * 2]


def test_without_the_level_ones_nobody_may_be_left() -> None:
    """If all are level and none of the level go on, nobody does."""
    level = standing(entrants("XYZ"), by_places({"X": (1,), "Y": (1,), "Z": (1,)}))
    decisions = cut(level, Cut(size=2, ties=CutTies.NONE))
    assert on(decisions) == ""
    assert {each.reason for each in decisions} == {CutReason.LEVEL}


def test_the_next_one_moves_up_for_who_withdrew() -> None:
    """An entry that is not available takes nobody's place."""
    decisions = cut(rows, Cut(size=3), unavailable={"A", "B"})
    assert on(decisions) == "DCE"
    assert {each.entry for each in decisions if each.reason is CutReason.UNAVAILABLE} == {"A", "B"}


def test_equal_points_of_another_stage_are_not_level() -> None:
    """An entry cut before is not level with a survivor, whatever the points."""
    field = [Entrant(entry="A", before=Fraction(10), survived=1), Entrant(entry="B", before=Fraction(10))]
    assert on(cut(standing(field, []), Cut(size=1, ties=CutTies.KEEP_ALL))) == "A"


@given(st.dictionaries(st.text("abcdefgh", min_size=1, max_size=2), st.integers(0, 5), min_size=1), st.integers(1, 8))
def test_the_size_of_a_cut(points: dict[str, int], size: int) -> None:
    """Keeping all keeps at least the size, keeping none at most, and both cut only where the points change."""
    field = standing([Entrant(entry=name, before=Fraction(value)) for name, value in points.items()], [])
    full = min(size, len(points))
    for ties, right in ((CutTies.KEEP_ALL, int.__ge__), (CutTies.NONE, int.__le__), (CutTies.BY_TIE_RULES, int.__ge__)):
        going = on_set(cut(field, Cut(size=size, ties=ties)))
        assert right(len(going), full)
        assert not {points[name] for name in going} & {points[name] for name in points if name not in going}


def on_set(decisions: Sequence[CutDecision]) -> set[str]:
    """The entries that go on."""
    return {decision.entry for decision in decisions if decision.goes_on}


def test_a_cut_keeps_someone() -> None:
    """A cut to nobody is refused."""
    with pytest.raises(ValueError, match="found a cut to 0, expected at least 1"):
        Cut(size=0)
