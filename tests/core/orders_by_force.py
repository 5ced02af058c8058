"""Every finishing order of a few entries, ties included, and what each does to the overall standing."""

from __future__ import annotations

from functools import cache
from itertools import product
from random import Random

import numpy as np
from numpy.typing import NDArray

from tallywire.core.needed import Contender, Race
from tallywire.core.points import PointsTable, TiePolicy, worths

Table = NDArray[np.int64]
SCALE = 420
"""The least common multiple of 1 … 7: means of up to seven whole numbers are whole."""


@cache
def weak_orders(count: int) -> Table:
    """All orders of `count` with ties, a row each, as the level (0 …) of every entry."""
    if count == 0:
        return np.zeros((1, 0), dtype=np.int64)
    rows = np.array([*product(range(count), repeat=count)], dtype=np.int8)
    top = rows.max(axis=1)
    used = np.array([np.any(rows == level, axis=1) | (level > top) for level in range(count)]).all(axis=0)
    return rows[used].astype(np.int64)


class Listed:
    """A race with all its finishing orders: (orders, entries) tables of places, of sharers and of who is ahead."""

    def __init__(self, race: Race) -> None:
        self.race = race
        self.names = [each.entry for each in race.contenders]
        ranked = [name for name in self.names if name not in race.out]
        levels = _allowed(race, ranked)
        order = np.argsort([self.names.index(name) for name in [*ranked, *race.out]])
        places = 1 + (levels[:, None, :] < levels[:, :, None]).sum(axis=2)
        sizes = (levels[:, None, :] == levels[:, :, None]).sum(axis=2)
        out = np.full((len(levels), len(race.out)), len(ranked) + 1)
        self.places = np.hstack([places, out])[:, order]
        self.sizes = np.hstack([sizes, np.zeros_like(out)])[:, order]
        standing = _standing(race, self.places, self.sizes)
        self.ahead = standing[:, None, :] > standing[:, :, None]
        """ahead[order, a, b]: b stands ahead of a overall."""
        self.rank = 1 + self.ahead.sum(axis=2)

    def own(self, name: str) -> NDArray[np.bool_]:
        """The orders in which an entry shares its place with nobody but its own settled level."""
        mates = next((len(level) for level in self.race.settled if name in level), int(name not in self.race.out))
        return np.asarray(self.sizes[:, self.names.index(name)] == mates, dtype=np.bool_)


def _allowed(race: Race, ranked: list[str]) -> Table:
    rows = weak_orders(len(ranked))
    column = {name: rows[:, index] for index, name in enumerate(ranked)}
    fine = np.ones(len(rows), dtype=np.bool_)
    for index, level in enumerate(race.settled):
        for name in level:
            fine &= column[name] == column[level[0]]
        for later in race.settled[index + 1 :]:
            fine &= column[level[0]] < column[later[0]]
        if index < race.passed:
            for name in race.open:
                fine &= column[level[0]] < column[name]
    return rows[fine]


def _standing(race: Race, places: Table, sizes: Table) -> Table:
    """One number for each entry in each order: points, then firsts, seconds …, then the place in the event."""
    count = places.shape[1]
    worth = np.array([0, *map(int, worths(race.table, count)), *[0] * (count + 1)]) * SCALE
    sums = np.cumsum(worth)
    if race.ties is TiePolicy.MEAN:
        points = (sums[places + np.maximum(sizes, 1) - 1] - sums[places - 1]) // np.maximum(sizes, 1)
    else:
        points = worth[places]
    points = np.where(sizes > 0, points, 0) + np.array([int(each.points) * SCALE for each in race.contenders])
    digits = np.zeros_like(points)
    for place in range(1, count + 1):
        earlier = np.array([each.places.count(place) for each in race.contenders])
        digits = digits * 6 + earlier + ((places == place) & (sizes > 0))
    return np.asarray((points * 6**count + digits) * (count + 2) - places, dtype=np.int64)


def random_race(seed: int, count: int = 7) -> Race:
    """A race of `count` with a standing close enough to be open, some results in, now and then one who is out."""
    dice = Random(seed)
    names = [f"e{n}" for n in range(count)]
    events = dice.randint(0, 3)
    spread = dice.choice([20, 60, 120])
    values = sorted((dice.randint(0, 12) * 5 for _ in range(dice.randint(count - 1, count))), reverse=True)
    table = dice.choice([PointsTable(tuple(range(10 * count, 0, -10))), PointsTable(tuple(values))])
    hidden = dice.sample(names, count)
    out = tuple(hidden[:1]) if dice.random() < 0.2 else ()
    settled = _levels(dice, hidden[len(out) : len(out) + dice.choice([0, 0, 1, 2, 3, 4])])
    return Race(
        contenders=tuple(
            Contender(
                entry=name,
                points=dice.randrange(0, spread, 5),
                places=tuple(dice.randint(1, count) for _ in range(events)),
            )
            for name in names
        ),
        table=table,
        ties=dice.choice([*TiePolicy]),
        settled=settled,
        passed=dice.randint(0, len(settled)),
        out=out,
    )


def _levels(dice: Random, names: list[str]) -> tuple[tuple[str, ...], ...]:
    levels: list[tuple[str, ...]] = []
    for name in names:
        if levels and dice.random() < 0.3:
            levels[-1] = (*levels[-1], name)
        else:
            levels.append((name,))
    return tuple(levels)
