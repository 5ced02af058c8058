"""Who leads for certain after several open scores of an event, found rival by rival, without a list of all orders.

An entry leads in every order if no single rival is ahead of it in any, and the others cannot keep the two from the ends
that suit the rival best: in each score alone the entry as far down, and the rival as far up, as the two can be at
once. Where every score counts, a better result never harms, so these ends decide. Other questions, such as who can
still lead, ask for all rivals at once: with totals alone that is numerical three-dimensional matching already (Garey
and Johnson 1979, SP16; from memory), so no short way is to be expected.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod

from tallywire.core.clinching.orders import OUT, Orders
from tallywire.core.clinching.race import NotWorkedOut, Race
from tallywire.core.clinching.worth import added_up

MOST_RESULTS = 20_000
"""So many combinations of the scores' results are added up."""
Results = tuple[int, int]
"""The level of result of an entry and that of its rival, in one score."""


def certain_leaders(races: Sequence[Race]) -> list[str]:
    """Name those who lead overall in every order of these scores, new ties included.

    Raises NotWorkedOut with drops, results that earn nothing, tables that rise, or too many results.
    """
    found = _Scores(races)
    names = [each.entry for each in races[0].contenders]
    return [name for name in names if all(found.stays_ahead(name, rival) for rival in names if rival != name)]


class _Scores:
    """The open scores, and the standing after each combination of their results."""

    def __init__(self, races: Sequence[Race]) -> None:
        first = races[0]
        if first.rules.drop_worst or first.level_is_ahead or any(race.unpaid for race in races):
            raise NotWorkedOut("several_scores", "found scores that may not count, expected all of them to count")
        self._orders = [Orders(race) for race in races]
        self._sizes = [len(orders.worth.points) for orders in self._orders]
        if prod(self._sizes) > MOST_RESULTS:
            raise NotWorkedOut("several_scores", f"found {self._sizes} results, expected {MOST_RESULTS} together")
        self._uncounted = {*first.uncounted}
        self._after, self._out = added_up(races)

    def stays_ahead(self, name: str, rival: str) -> bool:
        """Whether a rival can never stand ahead."""
        if rival in self._uncounted:
            return True
        pairs = [_ends(orders, name, rival) for orders in self._orders]
        return all(self._standing(name, own) >= self._standing(rival, other) for own, other in _each_end(pairs))

    def _standing(self, name: str, results: Sequence[int]) -> int:
        if self._orders[0].level(name) == OUT:
            return self._out[name]
        at = 0
        for size, result in zip(self._sizes, results, strict=True):
            at = at * size + result
        return self._after[name][at]


def _ends(orders: Orders, name: str, rival: str) -> list[Results]:
    """The pairs of results than which no other is both worse for the entry and better for the rival."""
    own, other = orders.level(name), orders.level(rival)
    joint = orders.rival_places(name, rival)
    pairs = {(orders.gain(own, place), orders.gain(other, each)) for place, theirs in joint.items() for each in theirs}
    return [each for each in pairs if not any(one != each and one[0] <= each[0] and one[1] >= each[1] for one in pairs)]


def _each_end(pairs: Sequence[Sequence[Results]]) -> Iterator[tuple[Sequence[int], Sequence[int]]]:
    for ends in product(*pairs):
        yield [own for own, _ in ends], [other for _, other in ends]
