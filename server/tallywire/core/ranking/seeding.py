"""Seeding: heats and lanes of the next event from the standing. Leaders race last and in the middle lanes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Uneven(StrEnum):
    """Which heat is short when the entries do not fill all heats.

    FIRST_SHORT: all heats are full but the first, the weakest one; see `least`.
    EVEN: sizes differ by one at most, and the smaller heats come first.
    """

    FIRST_SHORT = "first_short"
    EVEN = "even"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedRules:
    """How entries are spread over heats.

    `lanes` are the lane numbers of the floor from one side to the other. With FIRST_SHORT a first heat of fewer than
    `least` is filled up to it from the second heat, as far as that leaves the second heat no smaller than the first.
    Raises ValueError without lanes, for a lane named twice, or for a `least` outside 1 to the number of lanes.
    """

    lanes: tuple[int, ...]
    uneven: Uneven = Uneven.FIRST_SHORT
    least: int = 1

    def __post_init__(self) -> None:
        if not self.lanes or len(set(self.lanes)) < len(self.lanes):
            raise ValueError(f"found lanes {self.lanes}, expected at least one lane, each named once")
        if not 1 <= self.least <= len(self.lanes):
            raise ValueError(f"found a least of {self.least}, expected 1 to {len(self.lanes)}, the number of lanes")


def seed(order: Sequence[str], rules: SeedRules) -> tuple[dict[int, str], ...]:
    """Give the heats in their running order, each as its entries by lane, lanes as in `rules.lanes`.

    `order` lists the entries from the best to the last: a standing's rows, whose order is the same on every machine
    (those who share a place stay in the order of the start list). The last heat holds the best. Raises ValueError for
    an entry named twice.
    """
    twice = [entry for entry, count in Counter(order).items() if count > 1]
    if twice:
        raise ValueError(f"found {', '.join(twice)} twice, expected each entry once")
    heats, left = [], list(order)
    for size in reversed(heat_sizes(len(order), rules)):
        heats.append(_on_lanes(left[:size], rules.lanes))
        left = left[size:]
    return tuple(reversed(heats))


def heat_sizes(count: int, rules: SeedRules) -> tuple[int, ...]:
    """Give how many entries each heat has, first heat first."""
    full = len(rules.lanes)
    heats = -(-count // full)
    if rules.uneven is Uneven.EVEN:
        return tuple((count + index) // heats for index in range(heats))
    if heats < 2:
        return (count,) * heats
    both = count - (heats - 2) * full
    first = max(both - full, min(rules.least, both // 2))
    return (first, both - first, *[full] * (heats - 2))


def lane_order(lanes: Sequence[int]) -> tuple[int, ...]:
    """Give the lanes in the order in which the best to the last entry get them: the middle first, then the two sides in
    turn.

    Of an even number of lanes the lower of the two middle lanes is first and the upper second (of eight: 4, 5, 3, 6, 2,
    7, 1, 8); of an odd number the middle lane is first and its upper neighbour second (of five: 3, 4, 2, 5, 1). Source
    of the pattern: swimming rules 2009-2013, SW 3.1.2, where the second best is to the left of the best.
    """
    middle = (len(lanes) - 1) / 2
    return tuple(lane for _, lane in sorted(enumerate(lanes), key=lambda each: _from_middle(each[0], middle)))


def _from_middle(index: int, middle: float) -> tuple[float, bool]:
    """Order lanes by distance from the middle.

    Of two at the same distance the upper comes first, but of an even number's middle pair the lower.
    """
    upper = index > middle
    return (abs(index - middle), upper if middle % 1 else not upper)


def _on_lanes(entries: Sequence[str], lanes: Sequence[int]) -> dict[int, str]:
    on = dict(zip(lane_order(lanes), entries, strict=False))
    return {lane: on[lane] for lane in lanes if lane in on}
