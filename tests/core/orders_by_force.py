"""Every finishing order of a few entries, ties included, and what each does to the overall standing."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import product
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tallywire.core.clinching.race import Contender, Race
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, PointsTable, TiePolicy, award, worths
from tallywire.core.ranking.standing import Entrant, EventScores, Scored, StandingRules, standing
from tallywire.core.ranking.tie_rules import Order, TieRule

Table = NDArray[np.int64]
SCALE = 420
"""The least common multiple of 1 … 7: means of up to seven whole numbers are whole."""


@cache
def weak_orders(count: int) -> Table:
    """All orders of `count` with ties, a row each, as the level (0 …) of every entry."""
    if count == 0:
        return np.zeros((1, 0), dtype=np.int64)
    return np.vstack([_behind(first) for first in product((False, True), repeat=count) if any(first)])


def _behind(first: tuple[bool, ...]) -> Table:
    """All orders in which those named, and nobody else, share the first level."""
    later = np.flatnonzero(~np.array(first))
    rest = weak_orders(len(later))
    rows = np.zeros((len(rest), len(first)), dtype=np.int64)
    rows[:, later] = rest + 1
    return rows


class Listed:
    """A race with all its finishing orders: (orders, entries) tables of places, of sharers and of who is ahead."""

    def __init__(self, race: Race) -> None:
        self.race = race
        self.names = [each.entry for each in race.contenders]
        ranked = [name for name in self.names if name not in race.out]
        levels = _allowed(race, ranked)
        order = np.argsort([self.names.index(name) for name in [*ranked, *race.out]])
        places, sizes = np.ones_like(levels), np.zeros_like(levels)
        for rival in levels.T[:, :, None]:
            places += rival < levels
            sizes += rival == levels
        out = np.full((len(levels), len(race.out)), len(ranked) + 1)
        self.places = np.hstack([places, out])[:, order]
        self.sizes = np.hstack([sizes, np.zeros_like(out)])[:, order]
        plain = race.rules == StandingRules() and not race.unpaid
        standing = _standing(race, self.places, self.sizes) if plain else _by_the_engine(race, self.places, self.sizes)
        self.ahead = standing[:, None, :] > standing[:, :, None]
        """ahead[order, a, b]: b stands ahead of a overall."""
        self.rank = np.ones_like(standing)
        for name, rival in zip(self.names, standing.T[:, :, None], strict=True):
            if name not in race.uncounted:
                self.rank += rival > standing
                self.rank += (rival == standing) & race.level_is_ahead & (np.array(self.names) != name)

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


def _by_the_engine(race: Race, places: Table, sizes: Table) -> Table:
    """The same under any rules: each result of each entry is put to the standings engine alone, and looked up."""
    keys: dict[tuple[int, int, int], tuple[Any, ...]] = {}
    for column, each in enumerate(race.contenders):
        for place, size in {*zip(places[:, column].tolist(), sizes[:, column].tolist(), strict=True)}:
            keys[column, place, size] = _engine_key(race, each, place, size)
    rank = {key: n for n, key in enumerate(sorted(set(keys.values()), reverse=True))}
    found = np.zeros((len(race.contenders), places.max() + 1, sizes.max() + 1), dtype=np.int64)
    for where, key in keys.items():
        found[where] = rank[key]
    return found[np.arange(len(race.contenders))[None, :], places, sizes]


def _engine_key(race: Race, each: Contender, place: int, size: int) -> tuple[Any, ...]:
    taken = {str(n): place for n in range(max(size, 1))}
    earned = award(taken, race.table, ties=race.ties, field=race.size) if size else {"0": Fraction(0)}
    nothing = Fraction(0) if race.rules.order is Order.MOST else Fraction(race.size + 1)
    now = Scored(
        place=place, points=nothing if each.entry in (*race.out, *race.unpaid) else earned["0"], has_result=size > 0
    )
    brought = Fraction(each.points) - sum((score.points for score in each.past), Fraction(0))
    scores = [*each.scores(), now]
    events = [EventScores(event=str(n), scores={each.entry: score}) for n, score in enumerate(scores)]
    (row,) = standing([Entrant(entry=each.entry, before=brought)], events, race.rules)
    return (race.rules.order.sign * row.total, *(key for _, key in row.keys))


def random_ruled_race(seed: int, count: int) -> Race:
    """A race under rules of all kinds: fewest points, drops, other tie rules, results that earn nothing."""
    dice = Random(seed)
    base = random_race(seed, count)
    order = dice.choice([*Order])
    table = base.table if order is Order.MOST else FormulaTable(Formula("place"))
    drops = dice.choice([0, 1, 1, 2])
    ties = tuple(dice.sample([*TieRule][:-1], dice.randint(0, 3)))
    events = dice.randint(0, 3)
    settled = [entry for level in base.settled for entry in level]
    mean = base.ties is TiePolicy.MEAN
    return replace(
        base,
        table=table,
        rules=StandingRules(order=order, drop_worst=drops, drop_from=dice.randint(0, 3), ties=ties),
        contenders=tuple(_with_past(dice, each, events, order, count) for each in base.contenders),
        unpaid=tuple(settled[-1:]) if dice.random() < 0.3 and not mean else (),
        ties=TiePolicy.SHARE_BETTER if drops and mean else base.ties,
    )


def _with_past(dice: Random, each: Contender, events: int, order: Order, count: int) -> Contender:
    """With scores of a few events close together, so that tie rules decide; now and then one without a result."""
    past = []
    for _ in range(events):
        place, fine = dice.randint(1, count), dice.random() < 0.9
        earned = place if order is Order.FEWEST else 10 * (count + 1 - place)
        none = count + 1 if order is Order.FEWEST else 0
        points = Fraction(earned if fine else none)
        past.append(Scored(place=place, points=points, has_result=fine, must_count=dice.random() < 0.1))
    brought = dice.choice([0, 0, 0, 1, 10])
    total = Fraction(brought) + sum((score.points for score in past), Fraction(0))
    return Contender(entry=each.entry, points=total, past=tuple(past))


def random_race(seed: int, count: int = 7) -> Race:
    """A race of `count` entries in a close standing; some have results, and now and then one is out."""
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
