"""The book of the whole competition: the facts of every heat, what they add up to over all heats, and the show."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from tallywire.core.facts import ASIDE, BoothFact, Fact, FactVoided, HeatStarted, ShowFact
from tallywire.core.facts.ledger import lane_of
from tallywire.core.fold.booth import Booth
from tallywire.core.fold.floor import Floors
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.show import ShowBook
from tallywire.core.fold.snapshot import Kept, Rest, Snapshot
from tallywire.core.model.competition import Competition

LATER_MS = 24 * 60 * 60 * 1000
"""A heat clock at which every heat is over: that of recorded heats, where they are looked at as a whole."""


class CompetitionBook:
    """The facts of all heats, taken in any order. What is shown is made from a snapshot of the book."""

    def __init__(self, competition: Competition, facts: Iterable[Fact] = ()) -> None:
        self.competition = competition
        self.heats = {heat.id: HeatBook(competition, heat) for heat in competition.heats.values()}
        self.show = ShowBook(competition.outputs)
        self._booth = Booth()
        self._by_floor = {
            floor: [heat.id for heat in competition.heats.values() if heat.floor == floor]
            for floor in competition.floor_ids
        }
        self.floors = Floors({})
        """The heat on each floor: the last one called to it or started, or its first of the file before that."""
        self._kept = Kept()
        self.fill(facts)

    def fill(self, facts: Iterable[Fact]) -> None:
        """Take many facts at once, in any order: the result is the same as one by one, but it is faster.

        Raises KeyError, before anything is taken, when the competition has no such heat.
        """
        of_heats, aside = _parted(facts if isinstance(facts, Sequence) else list(facts))
        by_heat: dict[str, list[Fact]] = {heat: [] for heat in self.heats}
        for fact in of_heats:
            by_heat[fact.heat].append(fact)
        for each in aside:
            self._add_aside(each)
        for heat, found in by_heat.items():
            if found:
                self.heats[heat].fill(found)
        self._settle_floors()

    def add(self, fact: Fact) -> None:
        """Take a fact of a heat, the show or the booth. Raises KeyError when the competition has no such heat."""
        self._add_aside(fact)
        if isinstance(fact, ASIDE):
            return
        self.heats[fact.heat].add(fact)
        if lane_of(fact) is None:
            self._settle_floors()

    def _add_aside(self, fact: Fact) -> None:
        """Take a fact of the show, or one for the booth; a void may be of a note."""
        if isinstance(fact, ShowFact):
            self.show.add(fact)
        elif isinstance(fact, BoothFact | FactVoided):
            self._booth.add(fact)

    @property
    def floor(self) -> str:
        """The heat on the floor; of several floors, on the first."""
        return self.floors.first

    def _settle_floors(self) -> None:
        self.floors = Floors({floor: self._on_floor(heats) for floor, heats in self._by_floor.items()})

    def _on_floor(self, heats: Sequence[str]) -> str:
        """The heat that was called or started last by wall time; of two at the same time, the later in the file."""
        moved = [self.heats[heat].on_floor_unix_ms for heat in heats]
        latest = max(((at, number) for number, at in enumerate(moved) if at is not None), default=(0, 0))
        return heats[latest[1]] if heats else ""

    def at(self, *, unix_ms: int, recorded_ms: int | None = None) -> Snapshot:
        """Freeze the competition at a wall time.

        `recorded_ms` is the wall time by which its facts tell the time, in a rehearsal another one than ours.
        """
        facts_ms = unix_ms if recorded_ms is None else recorded_ms
        started = [(name, book.started) for name, book in self.heats.items() if book.started is not None]
        clocks = {name: heat_clock_ms(start, unix_ms=facts_ms) for name, start in started}
        return self._frozen(clocks, 0, unix_ms)

    def at_last_facts(self) -> Snapshot:
        """Freeze the competition with every heat's clock at its latest fact: for recordings."""
        return self.at_clocks({name: book.last_ms() for name, book in self.heats.items()})

    def at_clocks(self, clocks: Mapping[str, int], *, others_ms: int = 0) -> Snapshot:
        """Freeze the competition with these clocks; those of the other heats stand at `others_ms`."""
        return self._frozen(clocks, others_ms, 0)

    def _frozen(self, clocks: Mapping[str, int], others_ms: int, unix_ms: int) -> Snapshot:
        return Snapshot(
            self.competition,
            {name: book.at(clocks.get(name, others_ms)) for name, book in self.heats.items()},
            rest=Rest(floors=self.floors, outputs=self.show.outputs(), booth=self._booth.states(), unix_ms=unix_ms),
            kept=self._kept,
        )


def heat_clock_ms(started: HeatStarted | None, *, unix_ms: int) -> int:
    """Give the clock of a heat at a wall time; 0 before the start. The cap is not applied here."""
    return 0 if started is None else max(0, started.at_ms + unix_ms - started.unix_ms)


def _parted(facts: Sequence[Fact]) -> tuple[Sequence[Fact], Sequence[Fact]]:
    """Give the facts of heats, and those of the show and the booth; a void is both, it may be of a note."""
    kinds = set(map(type, facts))
    beside = {kind for kind in kinds if issubclass(kind, ASIDE)}
    apart = beside | ({FactVoided} & kinds)
    aside = [fact for fact in facts if type(fact) in apart] if apart else []
    return [fact for fact in facts if type(fact) not in beside] if beside else facts, aside
