"""The questions a commentator asks about the overall standing, answered exactly.

"Whatever the others do" means every finishing order of those with a result, ties included (see `orders`). An entry's
place is taken to be its own: shared with nobody, or only with those it is already tied with. A rival that withdraws, or
does less than the minimum work, gets no points; "can still lead" never counts on such a gift.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from tallywire.core.clinching.listing import MOST_ORDERS, Listing, listed, orders_there_are
from tallywire.core.clinching.need import Need
from tallywire.core.clinching.orders import OPEN, Orders
from tallywire.core.clinching.pairs import certain_leaders
from tallywire.core.clinching.race import NotWorkedOut, Race
from tallywire.core.clinching.walk import Rivals, Walk

T = TypeVar("T")
FEW_ORDERS = 50_000
"""Where bounds differ, a list of orders up to this long is used; beyond that, the least bound is taken for all."""


def needs(*races: Race) -> dict[str, Need]:
    """Answer for every contender, about the open score of an event or about several of them, in their order.

    Raises NotWorkedOut where only a list of all orders gives the answer and that list would be too long.
    """
    names = [each.entry for each in races[0].contenders]
    found = _worked_out(
        races,
        lambda orders: [_need(orders, name) for name in names],
        lambda listing: [listing.need(name) for name in names],
    )
    return dict(zip(names, found, strict=True))


def leads_for_certain(*races: Race) -> list[str]:
    """Name those who lead overall in every order, new ties included: those whose `Need.clinched` holds, found sooner.

    Most leaders fail on the first place that is looked at, their worst. Several scores are compared rival by rival
    where the list of all orders would be too long. Raises NotWorkedOut where neither gives the answer.
    """
    names = [each.entry for each in races[0].contenders]
    if len(races) > 1 and orders_there_are(races) > MOST_ORDERS:
        return certain_leaders(races)
    return _worked_out(
        races,
        lambda orders: [name for name in names if _leads_on_every_place(orders, name)],
        lambda listing: [name for name in names if listing.need(name).clinched],
    )


def _leads_on_every_place(orders: Orders, entry: str) -> bool:
    rivals = Rivals(orders, entry)
    return all(Walk(rivals, place).keeps_all_behind() for place in reversed(orders.possible(entry)))


def margin(race: Race, entry: str, rival: str) -> int | None:
    """By how many places an entry must beat a rival to stand ahead of it overall, wherever the two end.

    A negative number says by how many places the entry may be beaten. None says that no possible margin is enough.
    Where those who share a place earn the mean, the margin holds for places of their own: a new tie may break it.
    """
    pairs = _outcomes((race,), entry, rival)
    short = [other - place for place, other, ahead in pairs if not ahead]
    margins = {other - place for place, other, _ in pairs}
    return min((each for each in margins if not short or each > max(short)), default=None)


def _worked_out(races: tuple[Race, ...], short: Callable[[Orders], T], whole: Callable[[Listing], T]) -> T:
    """Answer by the orders that matter, or from the list of all of them where that is the only way."""
    try:
        if len(races) > 1:
            raise NotWorkedOut("several_scores", f"found {len(races)} open scores of the event, expected one")
        if races[0].bounds and orders_there_are(races) <= FEW_ORDERS:
            return whole(listed(races))
        return short(Orders(races[0]))
    except NotWorkedOut:
        if orders_there_are(races) > MOST_ORDERS:
            raise
        return whole(listed(races))


Outcomes = list[tuple[int, int, bool]]
"""Pairs of places that two entries can have, and whether the first stands ahead overall."""


def _outcomes(races: tuple[Race, ...], entry: str, rival: str) -> Outcomes:
    return _worked_out(
        races, lambda orders: _by_places(orders, entry, rival), lambda listing: listing.outcomes(entry, rival)
    )


def _by_places(orders: Orders, entry: str, rival: str) -> Outcomes:
    joint = orders.rival_places(entry, rival)
    return [
        (place, other, orders.after(entry, place) > orders.after(rival, other))
        for place, theirs in joint.items()
        for other in theirs
    ]


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
