"""What a false start leaves of a heat: its touches never counted, those that were made after the next start do.

A pad without a network does not hear of a recall. It goes on by the clock of the false start and names that start in
each touch; by wall time it is known which of them were made in the race that counts: those after the last recall and
after the start that holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from tallywire.core.facts.kinds import Fact, HeatRecalled, HeatStarted


class Recalls:
    """The false starts of a heat, from the facts about the heat itself that were not voided."""

    def __init__(self, heat_facts: Iterable[Fact] = ()) -> None:
        facts = list(heat_facts)
        starts = {fact.id: fact for fact in facts if isinstance(fact, HeatStarted)}
        self._false = {fact.recalls: starts.get(fact.recalls) for fact in facts if isinstance(fact, HeatRecalled)}
        good = [fact for fact in starts.values() if fact.id not in self._false]
        self._again = good[-1] if good else None
        recalled = max((fact.unix_ms for fact in facts if isinstance(fact, HeatRecalled)), default=0)
        self._since_unix_ms = recalled if self._again is None else max(recalled, self._again.unix_ms)

    def __eq__(self, other: object) -> bool:
        """Tell whether the same starts were false, and the same one holds."""
        return isinstance(other, Recalls) and self._parts == other._parts

    @property
    def _parts(self) -> tuple[object, ...]:
        return self._false, self._again, self._since_unix_ms

    __hash__ = None  # type: ignore[assignment]

    def __bool__(self) -> bool:
        """Tell whether any start was false."""
        return bool(self._false)

    def settle(self, facts: Sequence[Fact]) -> list[Fact]:
        """Give what counts of facts that stand, in the one order, each with its time by the clock that holds."""
        moved = [self.by_good_clock(fact) for fact in facts if fact.id not in self._false]
        return sorted((fact for fact in moved if fact is not None), key=lambda fact: fact.order)

    def by_good_clock(self, fact: Fact) -> Fact | None:
        """Give a fact with its time by the start that holds; None when it was made before that start."""
        if fact.start not in self._false:
            return fact
        false, again = self._false[fact.start], self._again
        if false is None or again is None:
            return None
        unix_ms = false.unix_ms - false.at_ms + fact.at_ms
        if unix_ms < self._since_unix_ms:
            return None
        return replace(fact, at_ms=again.at_ms + unix_ms - again.unix_ms, start=again.id)
