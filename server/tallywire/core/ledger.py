"""Which facts stand: duplicates dropped, voided facts struck out, the rest in the one order.

The result depends only on the set of facts, never on the order in which they arrived.
"""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Iterable

from tallywire.core.facts import Fact, FactVoided, LaneFact


def lane_of(fact: Fact) -> int | None:
    """Give the lane a fact is about, None for a fact about the whole heat."""
    return fact.lane if isinstance(fact, LaneFact | FactVoided) else None


def standing(facts: Iterable[Fact]) -> list[Fact]:
    """Strike the voided facts of one lane and give the rest without the voids.

    A void may itself be voided by a fact later in the order; then what it struck stands again. Going from the last
    void to the first, each void is settled before those it could strike, so that no two can strike each other.
    """
    ordered = list(facts)
    struck: set[str] = set()
    for fact in reversed(ordered):
        if isinstance(fact, FactVoided) and fact.id not in struck:
            struck.add(fact.voids)
    return [fact for fact in ordered if fact.id not in struck and not isinstance(fact, FactVoided)]


class Ledger:
    """The facts of one heat, by lane, each id once."""

    def __init__(self) -> None:
        self._by_id: dict[str, Fact] = {}
        self._lanes: defaultdict[int | None, list[Fact]] = defaultdict(list)

    def add(self, fact: Fact) -> set[int | None]:
        """Take a fact and give the lanes it may change (None: the heat itself).

        Of two facts with one id, the one that comes first in the order counts.
        """
        known = self._by_id.get(fact.id)
        if known is not None and known.order <= fact.order:
            return set()
        touched = {lane_of(fact)}
        if known is not None:
            self._lanes[lane_of(known)].remove(known)
            touched.add(lane_of(known))
        self._by_id[fact.id] = fact
        facts = self._lanes[lane_of(fact)]
        if not facts or facts[-1].order < fact.order:
            facts.append(fact)
        else:
            insort(facts, fact, key=lambda each: each.order)
        return touched

    def standing(self, lane: int | None) -> list[Fact]:
        """Give the facts that stand on a lane, in order (None: those about the whole heat)."""
        return standing(self._lanes[lane])

    def find(self, fact_id: str) -> Fact | None:
        """Give the fact with this id, struck or not, or None."""
        return self._by_id.get(fact_id)
