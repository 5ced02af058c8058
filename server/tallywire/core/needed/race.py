"""An event inside an overall standing: who contends, what a place is worth, what is settled already."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import accumulate, chain, pairwise
from math import lcm

from tallywire.core.points import Table, TiePolicy, worths


@dataclass(frozen=True, slots=True, kw_only=True)
class Contender:
    """An entry before the event: its overall points and its places in the events so far, in their order."""

    entry: str
    points: int | Fraction = 0
    places: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Race:
    """The event as far as it is known.

    `settled` lists, best first, the levels of those whose result is fixed among each other (a level of several is a
    tie); who is neither settled nor in `out` is open and may yet end anywhere, a tie included. No open entry can
    reach or pass the first `passed` levels any more: in a race for time, those whose time is on the clock already.
    `out` holds those without a result: no points, placed after all who have one.

    The most points win, every event counts, and equal points are decided as by default in `standings`: count-back, the
    place in the last event, shared. Raises ValueError for a points table that rises from one place to the next, or
    for an entry that is unknown or named twice.
    """

    contenders: tuple[Contender, ...]
    table: Table
    ties: TiePolicy = TiePolicy.SHARE_BETTER
    settled: tuple[tuple[str, ...], ...] = ()
    passed: int = 0
    out: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        values = worths(self.table, len(self.contenders))
        if any(better < worse for better, worse in pairwise((*values, Fraction(0)))):
            raise ValueError(f"found points {', '.join(map(str, values))}, expected a table that never rises")
        named = Counter([*chain(*self.settled), *self.out])
        wrong = sorted(named.keys() - {each.entry for each in self.contenders}) + [e for e in named if named[e] > 1]
        if wrong or not all(self.settled):
            raise ValueError(f"found settled {self.settled} and out {self.out}, expected each contender once at most")
        if not 0 <= self.passed <= len(self.settled):
            raise ValueError(f"found {self.passed} levels passed, expected at most the {len(self.settled)} settled")

    @property
    def open(self) -> tuple[str, ...]:
        """Who may yet end anywhere, in the order of the contenders."""
        closed = {*chain(*self.settled), *self.out}
        return tuple(each.entry for each in self.contenders if each.entry not in closed)

    @property
    def ranked(self) -> int:
        """How many will have a result."""
        return len(self.contenders) - len(self.out)


class Worth:
    """Every overall standing after the event as one whole number: what an entry brings plus what its result adds.

    Points come first, then the count of firsts, of seconds and so on (as digits, so that adding a place is adding a
    number; who has no result has no place to count), then the place in this event. A larger number stands better;
    equal numbers share the place.
    """

    def __init__(self, race: Race) -> None:
        places = [place for each in race.contenders for place in each.places]
        self._last = max([len(race.contenders), *places]) + 1
        self._digit = max(len(each.places) for each in race.contenders) + 2
        points = worths(race.table, len(race.contenders))
        self._scale = lcm(*(Fraction(each.points).denominator for each in race.contenders))
        self._scale *= lcm(*(each.denominator for each in points))
        if race.ties is TiePolicy.MEAN:
            self._scale *= lcm(*range(1, len(race.contenders) + 1))
        self._sums = [0, *accumulate(int(each * self._scale) for each in points)]
        self._race = race
        self.before = {each.entry: self._before(each) for each in race.contenders}
        self.out = self._last - race.ranked - 1

    @cached_property
    def cells(self) -> list[list[int]]:
        """What a place adds that `size` entries share: cells[place][size], both counted from 1."""
        ranked = self._race.ranked
        return [[]] + [
            [0] + [self.cell(place, size) for size in range(1, ranked + 2 - place)] for place in range(1, ranked + 1)
        ]

    def cell(self, place: int, size: int) -> int:
        """What one place adds."""
        shared = size if self._race.ties is TiePolicy.MEAN else 1
        points = (self._sums[place - 1 + shared] - self._sums[place - 1]) // shared
        return (points * self._count(0) + self._count(place)) * self._last + self._last - place

    def _before(self, each: Contender) -> int:
        counts = sum(self._count(place) for place in each.places)
        return (int(each.points * self._scale) * self._count(0) + counts) * self._last

    def _count(self, place: int) -> int:
        return int(self._digit ** (self._last - place))


def levels_of(places: dict[str, int]) -> tuple[tuple[str, ...], ...]:
    """Turn places into levels, best first: what `Race.settled` takes."""
    return tuple(tuple(entry for entry in places if places[entry] == place) for place in sorted(set(places.values())))


def flat(levels: Sequence[Sequence[str]]) -> list[tuple[str, int, int]]:
    """Give each entry of the levels with its place and the number who share it."""
    found: list[tuple[str, int, int]] = []
    for level in levels:
        place = len(found) + 1
        found += [(entry, place, len(level)) for entry in level]
    return found
