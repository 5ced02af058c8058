"""Every finishing order of an event, listed, for questions that no shorter way is known to answer exactly.

These come up where a table rises, where a result helps one entry and harms another, while several scores are open, and
while a finish that is not called bounds its own entry alone. For several scores, the list holds every order of each
with every order of the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, product
from math import prod

import numpy as np
from numpy.typing import NDArray

from tallywire.core.clinching.need import Need
from tallywire.core.clinching.race import Race
from tallywire.core.clinching.worth import overall_key
from tallywire.core.ranking.points import TiePolicy
from tallywire.core.ranking.standing import Scored

Table = NDArray[np.int64]
MOST_ORDERS = 300_000
"""The most orders that are listed: seven open entries have 47,293, eight 545,835 (ordered Bell numbers)."""


def orders_there_are(races: Sequence[Race]) -> int:
    """Count the finishing orders of these scores together."""
    return prod(_count(race) for race in races)


def _count(race: Race) -> int:
    """Count by how many levels an order has: one entry more joins a level in its reach, or makes one beside it.

    Where bounds differ, the count is an upper bound.
    """
    found = {len(race.settled): 1}
    for entry in race.open:
        passed, more = race.bound(entry)[0], dict[int, int]()
        for each, orders in found.items():
            more[each] = more.get(each, 0) + orders * (each - passed)
            more[each + 1] = more.get(each + 1, 0) + orders * (each - passed + 1)
        found = more
    return sum(found.values())


@lru_cache(maxsize=2)
def listed(races: tuple[Race, ...]) -> Listing:
    """Give the list of the orders of these scores; the last ones asked for are kept."""
    return Listing(races)


class Listing:
    """The finishing orders of some scores of one event: what each makes of the places and of the overall standing."""

    def __init__(self, races: Sequence[Race]) -> None:
        self.races = races
        self.names = [each.entry for each in races[0].contenders]
        self._own = [_Orders(race, self.names) for race in races]
        shape = [len(orders.places) for orders in self._own]
        rows = np.indices(shape).reshape(len(shape), -1)
        self.places = [orders.places[row] for orders, row in zip(self._own, rows, strict=True)]
        self.shared = [orders.shared[row] for orders, row in zip(self._own, rows, strict=True)]
        results = [orders.results[row] for orders, row in zip(self._own, rows, strict=True)]
        self.standing = self._standing(results)
        self.rank = self._rank()

    def _standing(self, results: Sequence[Table]) -> Table:
        """A number for each entry in each order; a larger one stands better."""
        keys = [
            [
                overall_key(self.races[0].rules, each, scores)
                for scores in product(*(orders.scores(each.entry) for orders in self._own))
            ]
            for each in self.races[0].contenders
        ]
        number = {key: n for n, key in enumerate(sorted({key for own in keys for key in own}, reverse=True))}
        sizes = [len(orders.kinds) for orders in self._own]
        index = np.ravel_multi_index([*results], sizes)
        columns = [np.array([number[key] for key in own])[index[:, n]] for n, own in enumerate(keys)]
        return np.stack(columns, axis=1)

    def _rank(self) -> Table:
        """The overall place of each entry in each order, by those ahead of it who take a place."""
        level = self.races[0].level_is_ahead
        rank = np.full_like(self.standing, 1 - level)
        for name, rival in zip(self.names, self.standing.T, strict=True):
            if name not in self.races[0].uncounted:
                rank += rival[:, None] >= self.standing if level else rival[:, None] > self.standing
        for n, name in enumerate(self.names):
            if level and name in self.races[0].uncounted:
                rank[:, n] += 1
        return rank

    def need(self, name: str) -> Need:
        """Give an entry's prospects."""
        at = self.names.index(name)
        own, place = self._on_one_place(at)
        rank = self.rank[:, at]
        led, lost = place[own & (rank == 1)], place[own & (rank > 1)]
        possible = np.unique(place[own]).tolist()
        return Need(
            entry=name,
            possible=tuple(possible),
            clinching=tuple(each for each in possible if each not in lost),
            leading=tuple(each for each in possible if each in led),
            best=int(rank.min()),
            worst=int(rank.max()),
        )

    def _on_one_place(self, at: int) -> tuple[NDArray[np.bool_], Table]:
        """The orders in which an entry has one place in every open score, with no new tie; and that place."""
        asked = [n for n, race in enumerate(self.races) if race.open] or [*range(len(self.races))]
        place = self.places[asked[0]][:, at]
        fine = [~self.shared[n][:, at] & (self.places[n][:, at] == place) for n in asked]
        return np.logical_and.reduce(fine), place

    def outcomes(self, name: str, rival: str) -> list[tuple[int, int, bool]]:
        """Give the pairs of places of two entries, with no new tie of theirs, and whether the first stands ahead."""
        a, b = self.names.index(name), self.names.index(rival)
        (own, place), (theirs, other) = self._on_one_place(a), self._on_one_place(b)
        rows = np.stack([place, other, self.standing[:, a] > self.standing[:, b]], axis=1)[own & theirs]
        return [(p, q, bool(ahead)) for p, q, ahead in np.unique(rows, axis=0).tolist()]


class _Orders:
    """The orders of one score: (orders, entries) tables of places, of new ties, and of results by `kinds`."""

    def __init__(self, race: Race, names: Sequence[str]) -> None:
        self.race = race
        ranked = [*(entry for level in race.settled for entry in level), *race.open]
        levels = _levels(race)
        places, paid, sizes = np.ones_like(levels), np.zeros_like(levels), np.zeros_like(levels)
        for name, rival in zip(ranked, levels.T[:, :, None], strict=True):
            places += rival < levels
            sizes += rival == levels
            paid += (rival == levels) & (name not in race.unpaid)
        mates = np.array([next((len(level) for level in race.settled if name in level), 1) for name in ranked])
        if race.ties is not TiePolicy.MEAN:
            paid = np.ones_like(paid)
        out = np.full((len(levels), len(race.out)), len(ranked) + 1)
        order = np.argsort([names.index(name) for name in [*ranked, *race.out]])
        self.places = np.hstack([places, out])[:, order]
        self.shared = np.hstack([sizes > mates, np.zeros_like(out, dtype=np.bool_)])[:, order]
        whole = np.hstack([places * (len(names) + 1) + paid, np.zeros_like(out)])[:, order]
        self.kinds, flat = np.unique(whole, return_inverse=True)
        self.results = flat.reshape(whole.shape)
        self._size, self._worths = len(names) + 1, race.worths()

    def scores(self, name: str) -> list[Scored]:
        """What each kind of result is worth to an entry; kinds that it cannot have are worth nothing."""
        return [self._score(name, *divmod(int(kind), self._size)) for kind in self.kinds]

    def _score(self, name: str, place: int, paid: int) -> Scored:
        race = self.race
        if name in race.out:
            return race.without_result(name)
        if place == 0 or name in race.unpaid or paid == 0:
            return Scored(place=place, points=race.nothing, in_count_back=race.in_count_back)
        worth = self._worths[place - 1 : place - 1 + paid]
        points = sum(worth, Fraction(0)) / len(worth)
        return Scored(place=place, points=points, in_count_back=race.in_count_back)


def _bounded(race: Race, entry: str, table: Table) -> Table:
    """Keep the orders in which an entry, the last of the columns, is within its bound."""
    (passed, joins), firsts = race.bound(entry), [0, *accumulate(len(level) for level in race.settled)]
    fine = np.ones(len(table), dtype=np.bool_)
    if passed:
        fine &= table[:, -1] > table[:, firsts[passed - 1]]
    if joins:
        fine &= table[:, -1] >= table[:, firsts[passed]]
    return table[fine]


def _levels(race: Race) -> Table:
    """All orders, as levels (best 0) of the settled, then of the open entries, each of which joins a level or a gap."""
    settled = [n for n, level in enumerate(race.settled) for _ in level]
    by_levels = {len(race.settled): [np.array([settled], dtype=np.int64).reshape(1, len(settled))]}
    for entry in race.open:
        more: dict[int, list[Table]] = {}
        for count, tables in by_levels.items():
            table = np.vstack(tables)
            for level in range(race.passed, count + 1):
                own = np.full((len(table), 1), level)
                more.setdefault(count + 1, []).append(np.hstack([table + (table >= level), own]))
                if level < count:
                    more.setdefault(count, []).append(np.hstack([table, own]))
        by_levels = {count: [_bounded(race, entry, np.vstack(tables))] for count, tables in more.items()}
    return np.vstack([table for tables in by_levels.values() for table in tables])
