"""The questions a commentator asks about the overall standing, answered exactly.

"Whatever the others do" means every finishing order of those with a result, ties included (see `orders`). An entry's
own place is taken as its own: shared with nobody, or only with those it is tied with already. A rival that withdraws
or does less than the least work gets no points; such gifts are left out, so "can still lead" never counts on them.
"""

from __future__ import annotations

from dataclasses import dataclass

from tallywire.core.clinching.orders import OPEN, Orders
from tallywire.core.clinching.race import Race
from tallywire.core.clinching.walk import Rivals, Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One entry's prospects. To lead is to have nobody ahead overall: level after every tie rule is leading too.

    `possible` are the places in the event it can still have; with one of `clinching` it leads overall whatever the
    others do, with one of `leading` it leads if some others finish low enough. `best` and `worst` are the overall
    places within reach.
    """

    entry: str
    possible: tuple[int, ...]
    clinching: tuple[int, ...]
    leading: tuple[int, ...]
    best: int
    worst: int

    @property
    def clinched(self) -> bool:
        """It leads overall in every order, new ties included."""
        return self.worst == 1

    @property
    def alive(self) -> bool:
        """It can still lead overall."""
        return self.best == 1

    def can_reach(self, last: int) -> bool:
        """Whether an overall place up to `last` is possible: 3 for the podium, the cut's number for the cut."""
        return self.best <= last

    def safe_for(self, last: int) -> bool:
        """Whether an overall place up to `last` is certain."""
        return self.worst <= last


def needs(race: Race) -> dict[str, Need]:
    """Answer for every contender."""
    orders = Orders(race)
    return {each.entry: _need(orders, each.entry) for each in race.contenders}


def leads_for_certain(race: Race) -> list[str]:
    """Name those who lead overall in every order, new ties included: those whose `Need.clinched` holds, found sooner.

    Most leaders fail on the first place that is looked at, their worst.
    """
    orders = Orders(race)
    return [each.entry for each in race.contenders if _leads_on_every_place(orders, each.entry)]


def _leads_on_every_place(orders: Orders, entry: str) -> bool:
    rivals = Rivals(orders, entry)
    return all(Walk(rivals, place).keeps_all_behind() for place in reversed(orders.possible(entry)))


def leeway(race: Race, entry: str, rival: str) -> dict[int, int | None]:
    """For each possible place of an entry, the best place the rival may have for the entry to stand ahead overall.

    None: no place the rival can have is bad enough.
    """
    orders = Orders(race)
    return {
        place: min((other for other in theirs if _stands_ahead(orders, entry, place, rival, other)), default=None)
        for place, theirs in sorted(orders.rival_places(entry, rival).items())
    }


def margin(race: Race, entry: str, rival: str) -> int | None:
    """By how many places an entry must beat a rival to stand ahead of it overall, wherever the two end.

    A negative number: by so many places it may be beaten. None: no possible margin is enough.
    """
    orders = Orders(race)
    joint = orders.rival_places(entry, rival)
    pairs = [(place, other) for place, theirs in joint.items() for other in theirs]
    short = [other - place for place, other in pairs if not _stands_ahead(orders, entry, place, rival, other)]
    margins = {other - place for place, other in pairs}
    return min((each for each in margins if not short or each > max(short)), default=None)


def _need(orders: Orders, entry: str) -> Need:
    """Look at every possible place; for the ends of the overall standing an open entry's own ends are enough.

    For a settled entry they are not: an open rival ahead of it costs the settled ones behind nothing, and may cost
    those ahead more than itself.
    """
    rivals = Rivals(orders, entry)
    walks = {place: Walk(rivals, place) for place in orders.possible(entry)}
    possible = tuple(walks)
    clinching = tuple(place for place, walk in walks.items() if walk.keeps_all_behind())
    leading = tuple(place for place, walk in walks.items() if place in clinching or walk.can_keep_all_behind())
    ends = (slice(1), slice(-1, None)) if orders.level(entry) == OPEN else (slice(None), slice(None))
    return Need(
        entry=entry,
        possible=possible,
        clinching=clinching,
        leading=leading,
        best=1 if leading else 1 + _fewest(orders, [walks[place] for place in possible[ends[0]]]),
        worst=1 if clinching == possible else 1 + _most([walks[place] for place in possible[ends[1]]]),
    )


def _fewest(orders: Orders, walks: list[Walk]) -> int:
    best = len(orders.race.contenders)
    for walk in walks:
        best = walk.fewest(best)
    return best


def _most(walks: list[Walk]) -> int:
    most = 0
    for walk in reversed(walks):
        most = walk.most(most)
    return most


def _stands_ahead(orders: Orders, entry: str, place: int, rival: str, other: int) -> bool:
    return orders.after(entry, place) > orders.after(rival, other)
