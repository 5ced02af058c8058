"""The book of the whole competition: every heat's facts, what they give over all heats, and the show."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable

from tallywire.core.facts import Fact, ShowFact
from tallywire.core.fold.heat import HeatBook
from tallywire.core.fold.show import ShowBook
from tallywire.core.model.competition import Competition

ClockOf = Callable[[HeatBook], int]
"""Gives a heat's clock in milliseconds."""


def last_fact(book: HeatBook) -> int:
    """Let a heat's clock stand at its latest fact: for recordings."""
    return book.last_ms()


class CompetitionBook:
    """All heats. Facts come in any order."""

    def __init__(self, competition: Competition, facts: Iterable[Fact] = ()) -> None:
        self.competition = competition
        self.heats = {heat.id: HeatBook(competition, heat) for heat in competition.heats.values()}
        self.show = ShowBook(competition.outputs)
        self.revisions: Counter[str] = Counter()
        """How many facts each event has had: what was worked out from an event holds as long as its number."""
        self.fields: dict[tuple[str, str], tuple[tuple[int, ...], frozenset[str]]] = {}
        """Who survived the cuts before an event, by event and division, with the revisions it was worked out from."""
        self._fill(facts)

    def _fill(self, facts: Iterable[Fact]) -> None:
        by_heat: dict[str, list[Fact]] = {heat: [] for heat in self.heats}
        for fact in facts:
            if isinstance(fact, ShowFact):
                self.show.add(fact)
            else:
                by_heat[fact.heat].append(fact)
        for heat, found in by_heat.items():
            self.revisions[self.heats[heat].event.id] += len(found)
            self.heats[heat].fill(found)

    def add(self, fact: Fact) -> None:
        """Take a fact of a heat or of the show. Raises KeyError when the competition has no such heat."""
        if isinstance(fact, ShowFact):
            self.show.add(fact)
        else:
            heat = self.heats[fact.heat]
            self.revisions[heat.event.id] += 1
            heat.add(fact)

    def heats_of(self, event: str) -> list[HeatBook]:
        """Give the heats of an event in the order of the file."""
        return [book for book in self.heats.values() if book.event.id == event]
