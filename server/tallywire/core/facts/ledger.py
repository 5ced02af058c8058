"""Which facts stand: duplicates are dropped, voided facts are struck out, and the rest come in the one order.

The result depends only on the set of facts, never on the order in which they arrived.
"""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from operator import attrgetter

from tallywire.core.facts import Fact, FactVoided
from tallywire.core.facts.recalls import Recalls

Order = tuple[int, str, int]
_ID = attrgetter("id")
_IN_ORDER = attrgetter("at_ms", "sender", "sequence")
"""The order of a fact about a heat, without a call for each."""
_FIRST: Order = (-1, "", 0)
"""An order that comes before that of every fact."""


def lane_of(fact: Fact) -> int | None:
    """Give the lane a fact is about, None for a fact about the whole heat."""
    lane: int | None = getattr(fact, "lane", None)
    return lane


def standing(facts: Iterable[Fact]) -> list[Fact]:
    """Strike out the voided facts of one lane, and give the rest without the facts that void.

    A void may itself be voided by a fact later in the order; then what it struck stands again. Going from the last
    void to the first, each void is settled before those it could strike, so that no two can strike each other.
    """
    ordered = list(facts)
    voids = [fact for fact in ordered if type(fact) is FactVoided]
    if not voids:
        return ordered
    struck: set[str] = set()
    for void in reversed(voids):
        if void.id not in struck:
            struck.add(void.voids)
    return [fact for fact in ordered if fact.id not in struck and type(fact) is not FactVoided]


class Ledger:
    """The facts of one heat, by lane, each id once. What stands on a lane is kept until a fact touches the lane."""

    def __init__(self) -> None:
        self._by_id: dict[str, Fact] = {}
        self._lanes: defaultdict[int | None, list[Fact]] = defaultdict(list)
        self._last: dict[int | None, Order] = {}
        self._standing: dict[int | None, list[Fact]] = {}
        self._recalls: Recalls | None = None

    @property
    def facts(self) -> Collection[Fact]:
        """Every fact, those that do not stand too, in no order."""
        return self._by_id.values()

    def add(self, fact: Fact) -> set[int | None]:
        """Take a fact and give the lanes it may change (None: the heat itself).

        Of two facts with one id, the one that comes first in the order counts.
        """
        order, lane = fact.order, lane_of(fact)
        known = self._by_id.get(fact.id)
        if known is not None:
            if known.order <= order:
                return set()
            self._remove(known)
        self._by_id[fact.id] = fact
        stood = self._standing.pop(lane, None)
        if self._last.get(lane, _FIRST) < order:
            whole = stood is not None and len(stood) == len(self._lanes[lane])
            if stood is not None and whole and type(fact) is not FactVoided and self._recalls is None:
                # Nothing on the lane was voided before or is now: what stood still stands, and so does this fact.
                self._standing[lane] = [*stood, fact]
            self._lanes[lane].append(fact)
            self._last[lane] = order
        else:
            insort(self._lanes[lane], fact, key=lambda each: each.order)
            self._last[lane] = self._lanes[lane][-1].order
        changed = {lane} if known is None else {lane, lane_of(known)}
        return self._with_recalled(changed) if None in changed else changed

    def fill(self, facts: Sequence[Fact]) -> None:
        """Take many facts of a heat at once, in any order: the result is the same as one by one, but it is faster."""
        by_id = dict(zip(map(_ID, facts), facts, strict=True))
        if self._by_id or len(by_id) < len(facts):
            for fact in facts:
                self.add(fact)
            return
        self._by_id = by_id
        lanes = self._lanes
        for fact in facts:
            lanes[getattr(fact, "lane", None)].append(fact)
        for lane, found in self._lanes.items():
            found.sort(key=_IN_ORDER)
            self._last[lane] = found[-1].order
        self._with_recalled(set())

    def _with_recalled(self, changed: set[int | None]) -> set[int | None]:
        """Note which starts were false, and add the lanes that this changes."""
        before, self._recalls = self._recalls, Recalls(standing(self._lanes[None])) or None
        if before == self._recalls:
            return changed
        self._standing.clear()
        return {None, *self._lanes}

    def _remove(self, fact: Fact) -> None:
        lane = lane_of(fact)
        left = self._lanes[lane]
        left.remove(fact)
        self._last[lane] = left[-1].order if left else _FIRST
        self._standing.pop(lane, None)

    def standing(self, lane: int | None) -> Sequence[Fact]:
        """Give the facts that stand on a lane, in order (None: those about the whole heat)."""
        found = self._standing.get(lane)
        if found is None:
            found = standing(self._lanes[lane])
            if self._recalls is not None:
                found = self._recalls.settle(found)
            self._standing[lane] = found
        return found
