"""The books as they fill, and the clock by which they are frozen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

from tallywire.core.facts import BoothFact, Fact, FactVoided, HeatStarted, HoldPlaced, HoldReleased, ShowFact
from tallywire.core.facts.ledger import lane_of
from tallywire.core.fold.book import CompetitionBook, heat_clock_ms
from tallywire.core.fold.floor import Floors
from tallywire.core.fold.open_heat import closed_because
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition
from tallywire.shell.clock import Clock
from tallywire.shell.pace import Pace

_EVERYWHERE = (HoldPlaced, HoldReleased, FactVoided)
"""Facts that may change which entries must not be seen: every picture with names from other heats has to know of them.
"""


@dataclass(slots=True)
class Change:
    """What may have changed: these `heats`, more in them than counts (`beyond_lanes`), the show, a floor's heat, or the
    notes about the heats of `booth`."""

    heats: set[str] = field(default_factory=set)
    beyond_lanes: bool = False
    show: bool = False
    floor_moved: bool = False
    booth: set[str] = field(default_factory=set)


class Books:
    """The books: they take facts, and give snapshots of what the facts add up to."""

    def __init__(self, competition: Competition, *, clock: Clock, pace: Pace | None = None) -> None:
        self.competition = competition
        self.pace = pace or Pace()
        """How the recorded time passes; live it is wall time."""
        self.behind_ms = 0
        """How old the books of a follower are that is cut off."""
        self._clock = clock
        self._book = CompetitionBook(competition)
        self._concerned = {
            event: frozenset(
                heat.id for heat in competition.heats.values() if heat.event in competition.concerns(event)
            )
            for event in competition.events
        }

    @property
    def floor(self) -> str:
        """The heat on the floor; of several floors, on the first."""
        return self._book.floor

    @property
    def floors(self) -> Floors:
        """The heat on each floor."""
        return self._book.floors

    @property
    def started(self) -> Mapping[str, HeatStarted]:
        """The starts of the heats that have started."""
        return {name: book.started for name, book in self._book.heats.items() if book.started is not None}

    def start_of(self, heat: str) -> HeatStarted | None:
        """Give the start of a heat; None before it."""
        return self._book.heats[heat].started

    def facts_of_heats(self) -> Iterator[Fact]:
        """Give every fact on which the count of a heat may rest, in no order: those of backup counters are left out."""
        return chain.from_iterable(book.ledger.facts for book in self._book.heats.values())

    def recorded_ms(self, unix_ms: int) -> int:
        """Give the time that facts tell at a wall time."""
        return self.pace.recorded_at(unix_ms)

    def add(self, fact: Fact, change: Change) -> None:
        """Take a fact and note what it may change. Raises KeyError when the competition has no such heat."""
        was = self._book.floors
        self._book.add(fact)
        if isinstance(fact, ShowFact):
            change.show = True
            return
        if isinstance(fact, BoothFact):
            change.booth.add(fact.heat)
            return
        change.heats.add(fact.heat)
        change.beyond_lanes |= lane_of(fact) is None
        if isinstance(fact, _EVERYWHERE):
            change.heats |= set(self._book.heats)
            change.beyond_lanes = change.show = True
        if was is not self._book.floors and was != self._book.floors:
            change.heats |= was.moved(self._book.floors)
            change.floor_moved = True

    def timed(self, fact: Fact) -> Fact:
        """Give a fact as it was sent with its wall time in the time that the others keep."""
        return self.pace.taken(fact)

    def fill(self, facts: Sequence[Fact]) -> None:
        """Take many facts at once, which nobody was shown yet."""
        self._book.fill(facts)

    def begin_anew(self, facts: Iterable[Fact]) -> None:
        """Forget every fact, and take these."""
        self._book = CompetitionBook(self.competition, facts)

    def heat_of(self, name: str) -> str:
        """Give the id of a heat by its name on the wire, which may be that of a floor."""
        return self._book.floors.heat_of(name)

    def snapshot(self) -> Snapshot:
        """Freeze the competition now. The clock is read once."""
        return self.snapshot_at(self._clock.unix_ms())

    def snapshot_at(self, unix_ms: int) -> Snapshot:
        """Freeze the competition as its clocks stand at a wall time."""
        return self._book.at(unix_ms=unix_ms, recorded_ms=self.pace.recorded_at(unix_ms))

    def heat_now(self, heat: str) -> HeatSnapshot:
        """Freeze one heat now."""
        book = self._book.heats[heat]
        return book.at(heat_clock_ms(book.started, unix_ms=self.pace.recorded_at(self._clock.unix_ms())))

    def closed(self, heat: str) -> str | None:
        """Say why no lane may count in a heat now; None when it was called or started, and is not signed."""
        book = self._book.heats.get(heat)
        why = None if book is None else closed_because(book.ledger.standing(None))
        return None if why is None else f'found a count in heat "{heat}", which is {why}'

    def concerned(self, heats: Iterable[str]) -> set[str]:
        """Give every heat whose frames a change in these may change, because places are counted over several heats."""
        events = {self.competition.heats[heat].event for heat in heats}
        return {heat for event in events for heat in self._concerned[event]}

    def names(self, heats: Iterable[str]) -> set[str]:
        """Give the names under which these heats are watched: their ids, and those of the floors that they are on."""
        return self._book.floors.names(heats)
