"""Loads: kilograms, pounds, bars and plates."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.model.loads import KG_A_LB, load_text
from tallywire.formats.max_load.plates import IWF_BARS_MILLI, IWF_PLATES_MILLI, plates_a_side
from tallywire.formats.max_load.rules import LiftingRules

IWF = LiftingRules(unit="kg", bar_milli=20_000, collar_milli=2_500, plates_milli=IWF_PLATES_MILLI, attempts=3)


@pytest.mark.parametrize(
    ("pounds", "kg"), [(35, "15.87573295"), (45, "20.41165665"), (95, "43.09127515"), (135, "61.23496995")]
)
def test_a_pound_is_exact(pounds: int, kg: str) -> None:
    """A pound is exactly 0.45359237 kg. Source: NIST Special Publication 811."""
    assert pounds * KG_A_LB == Fraction(kg)


def test_bars_and_discs() -> None:
    """Bars of 20 and 15 kg, discs from 25 to 0.5. Source: IWF technical rules."""
    assert IWF_BARS_MILLI == (20_000, 15_000)
    assert [milli / 1000 for milli in IWF_PLATES_MILLI] == [25, 20, 15, 10, 5, 2.5, 2, 1.5, 1, 0.5]


@pytest.mark.parametrize(
    ("load", "side"),
    [(20_000, ()), (25_000, ()), (75_000, (25_000,)), (102_000, (25_000, 10_000, 2_500, 1_000)), (26_000, (500,))],
)
def test_what_is_on_the_bar(load: int, side: tuple[int, ...]) -> None:
    """The fewest discs on each side, heaviest first, with bar and collars taken off; the bar alone goes bare."""
    assert plates_a_side(IWF, load) == side


@pytest.mark.parametrize("load", [19_000, 24_000, 25_500, 75_001])
def test_what_cannot_be_loaded(load: int) -> None:
    """Lighter than bar and collars, or not evenly made of the discs at hand: None."""
    assert plates_a_side(IWF, load) is None


def test_heaviest_first_does_not_get_stuck() -> None:
    """With discs of 20 and 15 only, 30 a side is two of 15, though one of 20 fits first."""
    rules = LiftingRules(unit="kg", bar_milli=20_000, collar_milli=0, plates_milli=(20_000, 15_000), attempts=None)
    assert plates_a_side(rules, 80_000) == (15_000, 15_000)


@given(st.integers(25_000, 400_000))
def test_what_is_loaded_weighs_what_was_asked(load: int) -> None:
    """Bar, collars and both sides add up to the load."""
    side = plates_a_side(IWF, load)
    if side is not None and load != IWF.bar_milli:
        assert IWF.bar_milli + 2 * IWF.collar_milli + 2 * sum(side) == load


@pytest.mark.parametrize(("milli", "text"), [(102_500, "102.5 kg"), (100_000, "100 kg"), (61_235, "61.235 kg")])
def test_loads_are_written_short(milli: int, text: str) -> None:
    """No decimals that say nothing."""
    assert load_text(milli, "kg") == text
