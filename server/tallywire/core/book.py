"""The book of the whole competition: every heat's facts, and what they give over all heats of an event."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from tallywire.core.competition import Competition
from tallywire.core.facts import Fact
from tallywire.core.fold import HeatBook

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
        for fact in facts:
            self.add(fact)

    def add(self, fact: Fact) -> None:
        """Take a fact. Raises KeyError when the competition has no such heat."""
        self.heats[fact.heat].add(fact)

    def heats_of(self, event: str) -> list[HeatBook]:
        """Give the heats of an event in the order of the file."""
        return [book for book in self.heats.values() if book.event.id == event]
