"""Figures, goals, turns: what is said of values that were measured."""

from __future__ import annotations

import pytest

from tallywire.measure.figures import Figure, Goal, rounded
from tallywire.measure.scale import Scale
from tallywire.measure.turns import in_turn


def test_a_figure_is_the_median_with_its_spread() -> None:
    """Of five values the third by size, and the two ends; a single value stands alone."""
    assert str(Figure.of([5, 1, 4, 2, 3])) == "3.00 (1.00–5.00)"
    assert str(Figure.of([7.25])) == "7.25"


def test_a_ratio_is_taken_turn_by_turn() -> None:
    """What slowed both of one turn down is not in it."""
    assert Figure.of([2, 20, 6]).over(Figure.of([1, 10, 3])).values == (2, 2, 2)
    with pytest.raises(ValueError, match="zip"):
        Figure.of([1, 2]).over(Figure.of([1]))


@pytest.mark.parametrize(
    ("value", "text"), [(1234.5, "1,234"), (99.96, "100.0"), (12.34, "12.3"), (0.456, "0.46"), (-5, "-5.00")]
)
def test_three_digits_are_enough(value: float, text: str) -> None:
    """A noisy machine has no more to say."""
    assert rounded(value) == text


@pytest.mark.parametrize(
    ("found", "at_least", "met"), [(1.5, False, True), (1.6, False, False), (1.5, True, True), (1.4, True, False)]
)
def test_a_goal_is_met_by_the_median(found: float, at_least: bool, met: bool) -> None:
    """At the bound itself it is met."""
    goal = Goal(says="a tap", found=Figure.of([found]), bound=1.5, unit="ms", at_least=at_least)
    assert goal.is_met is met
    assert str(goal).endswith(f"1.5 ms, {'met' if met else 'missed'}")


def test_ways_take_turns_after_a_warm_up() -> None:
    """Each is measured as often as the other, one after the other, and the first round does not count."""
    order: list[str] = []

    def way(name: str) -> float:
        order.append(name)
        return len(order)

    found = in_turn({name: lambda name=name: way(name) for name in "ab"}, Scale())  # type: ignore[misc]
    assert "".join(order) == "ab" * 6
    assert found["a"].values == (3, 5, 7, 9, 11)
    assert len(in_turn({"a": lambda: 1.0}, Scale(quick=True))["a"].values) == 1
