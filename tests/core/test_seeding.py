"""Heats and lanes from the standing."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.ranking.seeding import SeedRules, Uneven, heat_sizes, lane_order, seed


def lanes(count: int) -> tuple[int, ...]:
    """Lanes 1 to count."""
    return tuple(range(1, count + 1))


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        (lanes(8), (4, 5, 3, 6, 2, 7, 1, 8)),
        (lanes(6), (3, 4, 2, 5, 1, 6)),
        (lanes(10), (5, 6, 4, 7, 3, 8, 2, 9, 1, 10)),
        (lanes(5), (3, 4, 2, 5, 1)),
        (lanes(3), (2, 3, 1)),
        (lanes(2), (1, 2)),
        (lanes(1), (1,)),
        ((2, 3, 5, 8), (3, 5, 2, 8)),
    ],
)
def test_the_best_are_in_the_middle(numbers: Sequence[int], expected: tuple[int, ...]) -> None:
    """The order of the lanes from the best one's to the last one's.

    Source of 6 and 8 lanes and of the odd ones: swimming rules 2009-2013, SW 3.1.2 (centre lane, or lane 3 of 6 and 4
    of 8; the next best to the left, where the numbers rise, then right and left in turn). 10: national swimming rules
    as published. The last skips lanes that are not in use.
    """
    assert lane_order(numbers) == expected


def test_leaders_race_last() -> None:
    """Eight entries on three lanes: the best three last, the best of each heat in the middle, the first heat short."""
    assert seed("ABCDEFGH", SeedRules(lanes=lanes(3))) == (
        {2: "G", 3: "H"},
        {1: "F", 2: "D", 3: "E"},
        {1: "C", 2: "A", 3: "B"},
    )


def test_a_short_heat_stands_in_the_middle() -> None:
    """Two entries on five lanes leave the outer lanes empty."""
    assert seed("AB", SeedRules(lanes=lanes(5))) == ({3: "A", 4: "B"},)


def test_lanes_are_listed_as_on_the_floor() -> None:
    """Each heat lists its lanes from one side of the floor to the other, whatever the numbers."""
    heats = seed("ABCDE", SeedRules(lanes=(9, 7, 5)))
    assert [list(heat.items()) for heat in heats] == [[(7, "D"), (5, "E")], [(9, "C"), (7, "A"), (5, "B")]]


@pytest.mark.parametrize(
    ("count", "uneven", "least", "sizes"),
    [
        (0, Uneven.FIRST_SHORT, 1, ()),
        (0, Uneven.EVEN, 1, ()),
        (7, Uneven.FIRST_SHORT, 1, (7,)),
        (10, Uneven.FIRST_SHORT, 3, (10,)),
        (20, Uneven.FIRST_SHORT, 3, (10, 10)),
        (22, Uneven.FIRST_SHORT, 1, (2, 10, 10)),
        (22, Uneven.FIRST_SHORT, 3, (3, 9, 10)),
        (12, Uneven.FIRST_SHORT, 9, (6, 6)),
        (11, Uneven.FIRST_SHORT, 9, (5, 6)),
        (2, Uneven.FIRST_SHORT, 3, (2,)),
        (22, Uneven.EVEN, 1, (7, 7, 8)),
        (23, Uneven.EVEN, 1, (7, 8, 8)),
        (30, Uneven.EVEN, 1, (10, 10, 10)),
    ],
)
def test_which_heat_is_short(count: int, uneven: Uneven, least: int, sizes: tuple[int, ...]) -> None:
    """Ten lanes: the first heat is short, filled up to the least from the second, or all are as even as can be."""
    assert heat_sizes(count, SeedRules(lanes=lanes(10), uneven=uneven, least=least)) == sizes


@given(
    st.lists(st.text("abcdef", min_size=1, max_size=3), unique=True, max_size=40),
    st.integers(1, 12),
    st.sampled_from(Uneven),
    st.integers(1, 12),
)
def test_everyone_has_one_lane(order: list[str], width: int, uneven: Uneven, least: int) -> None:
    """Everyone stands once, no heat is over-full, as few heats as can be, and better entries never race earlier."""
    rules = SeedRules(lanes=lanes(width), uneven=uneven, least=min(least, width))
    heats = seed(order, rules)
    assert sorted(entry for heat in heats for entry in heat.values()) == sorted(order)
    assert all(1 <= len(heat) <= width and set(heat) <= set(rules.lanes) for heat in heats)
    assert len(heats) == -(-len(order) // width)
    heat_of = {entry: number for number, heat in enumerate(heats) for entry in heat.values()}
    assert [heat_of[entry] for entry in order] == sorted(heat_of.values(), reverse=True)
    assert [len(heat) for heat in heats] == sorted(len(heat) for heat in heats)


@given(st.integers(1, 30))
def test_lanes_go_outwards(count: int) -> None:
    """Each next lane is as far from the middle as the one before, or farther, and every lane comes once."""
    middle = (count + 1) / 2
    order = lane_order(lanes(count))
    distances = [abs(lane - middle) for lane in order]
    assert sorted(order) == list(lanes(count))
    assert distances == sorted(distances)


def test_rules_that_cannot_hold_are_refused() -> None:
    """No lanes, a lane twice, a least no heat can have, and an entry twice are errors that say so."""
    with pytest.raises(ValueError, match=r"found lanes \(\), expected at least one lane"):
        SeedRules(lanes=())
    with pytest.raises(ValueError, match=r"found lanes \(1, 2, 1\), expected at least one lane, each named once"):
        SeedRules(lanes=(1, 2, 1))
    with pytest.raises(ValueError, match="found a least of 4, expected 1 to 3, the number of lanes"):
        SeedRules(lanes=lanes(3), least=4)
    with pytest.raises(ValueError, match="found A twice, expected each entry once"):
        seed("ABA", SeedRules(lanes=lanes(3)))
