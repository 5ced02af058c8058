"""Which finishing orders are possible, and the places two entries can have in one of them.

A finishing order is any order of those with a result, ties included, that keeps the settled levels in their order.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import accumulate, product
from typing import NamedTuple

from tallywire.core.clinching.race import Race
from tallywire.core.clinching.worth import Worth

OPEN, OUT = -1, -2
"""Stand for an open entry and for one without a result where a settled level's index is asked for."""
Spot = tuple[int, int]
"""How many settled levels, and how many open entries, are ahead."""


class _Reach(NamedTuple):
    """All spots between two spots, in both numbers."""

    first: Spot
    last: Spot

    def spots(self) -> Iterator[Spot]:
        return product(range(self.first[0], self.last[0] + 1), range(self.first[1], self.last[1] + 1))

    def cut(self, first: Spot, last: Spot) -> _Reach | None:
        """Keep the spots that lie between these two as well."""
        (a, b), (c, d) = self
        a, b = (first[0] if first[0] > a else a), (first[1] if first[1] > b else b)
        c, d = (last[0] if last[0] < c else c), (last[1] if last[1] < d else d)
        return _Reach((a, b), (c, d)) if a <= c and b <= d else None


class Orders:
    """The finishing orders of a race, without listing them.

    A place is an entry's own here: shared with nobody, or only with those of its settled level. For questions about the
    best or the worst that loses nothing: if an entry of a new tie is moved to its front, it keeps the place and at
    least the points, and the others lose.
    """

    def __init__(self, race: Race) -> None:
        self.race = race
        self.worth = Worth(race)
        self.open = race.open
        self.filled = [0, *accumulate(len(level) for level in race.settled)]
        self._level = {entry: index for index, level in enumerate(race.settled) for entry in level}
        self._level |= dict.fromkeys(race.out, OUT)
        self._ranges: dict[tuple[int, int], dict[int, tuple[int, int]]] = {}

    def level(self, entry: str) -> int:
        """The index of an entry's settled level, or OPEN, or OUT."""
        return self._level.get(entry, OPEN)

    def gain(self, level: int, place: int) -> int:
        """The level of result (see `Worth`) that a place is to those on a settled level or to one OPEN; 0 for OUT."""
        if level == OUT:
            return 0
        return self.worth.cells[place][1 if level == OPEN else len(self.race.settled[level])]

    def after(self, entry: str, place: int) -> int:
        """An entry's overall standing with a place in the event."""
        level = self.level(entry)
        return self.worth.out[entry] if level == OUT else self.worth.after[entry][self.gain(level, place)]

    def possible(self, entry: str) -> list[int]:
        """The places an entry can end on."""
        level = self.level(entry)
        return sorted({self._place(level, spot) for spot in self._reach(level, self._others(level)).spots()})

    def rival_places(self, entry: str, rival: str) -> dict[int, set[int]]:
        """For each possible place of an entry, the places a rival can have at the same time."""
        found: defaultdict[int, set[int]] = defaultdict(set)
        for place, reach, shift in self._joint(self.level(entry), self.level(rival)):
            found[place] |= {self._place(self.level(rival), spot) + shift for spot in reach.spots()}
        return found

    def ranges(self, own: int, rival: int) -> dict[int, tuple[int, int]]:
        """For each possible place of one on level `own`, the best and the worst place of one on level `rival`."""
        if (own, rival) not in self._ranges:
            self._ranges[own, rival] = self._range(own, rival)
        return self._ranges[own, rival]

    def _range(self, own: int, rival: int) -> dict[int, tuple[int, int]]:
        found: dict[int, tuple[int, int]] = {}
        for place, reach, shift in self._joint(own, rival):
            best, worst = (self._place(rival, spot) + shift for spot in (reach.first, reach.last))
            known = found.get(place, (best, worst))
            found[place] = (min(best, known[0]), max(worst, known[1]))
        return found

    def _others(self, *levels: int) -> int:
        return len(self.open) - levels.count(OPEN)

    def _place(self, level: int, spot: Spot) -> int:
        return self.race.ranked + 1 if level == OUT else self.filled[spot[0]] + spot[1] + 1

    def _reach(self, level: int, others: int) -> _Reach:
        """Every spot one can have among so many open others."""
        levels, passed = len(self.race.settled), self.race.passed
        if level == OUT:
            return _Reach((levels, others), (levels, others))
        if level == OPEN:
            return _Reach((passed, 0), (levels, others))
        return _Reach((level, 0), (level, others if level >= passed else 0))

    def _joint(self, first: int, second: int) -> Iterator[tuple[int, _Reach, int]]:
        """Give each place of the first, the spots where the second can be then, and by how much the first shifts it."""
        others = self._others(first, second)
        second_reach = self._reach(second, others)
        for i, j in self._reach(first, others).spots():
            if first == second != OPEN:
                yield self._place(first, (i, j)), _Reach((i, j), (i, j)), 0
                continue
            behind = second_reach.cut((i + (first >= 0), j), second_reach.last)
            if behind and first != OUT:
                yield self._place(first, (i, j)), behind, int(first == OPEN and second != OUT)
            ahead = second_reach.cut((0, 0), (i - (second >= 0), j))
            if ahead and second != OUT:
                yield self._place(first, (i, j)) + (second == OPEN and first != OUT), ahead, 0
