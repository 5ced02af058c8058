"""The facts of one heat, in any order, and what they fold into."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tallywire.core.facts import Fact, FactVoided, HeatCalled, HeatEnded, HeatRecalled, HeatStarted, LaneFact
from tallywire.core.facts.ledger import Ledger, lane_of
from tallywire.core.fold.counters import backups_among, of_backup
from tallywire.core.fold.judged_heat import FoldedHeat
from tallywire.core.fold.lane import FoldedLane
from tallywire.core.fold.setup import HeatSetup
from tallywire.core.fold.snapshot import HeatSnapshot
from tallywire.core.model.competition import Competition, Heat


class HeatBook:
    """Takes the facts of one heat; only the lanes a fact touches are folded again.

    What backup counters count is in a book of its own: it changes nothing of the heat.
    """

    def __init__(self, competition: Competition, heat: Heat) -> None:
        self._competition = competition
        self.heat = heat
        self.setup = HeatSetup(competition, heat)
        self.event = self.setup.event
        self.ledger = Ledger()
        self.started: HeatStarted | None = None
        self.ended_ms: int | None = None
        self.on_floor_unix_ms: int | None = None
        self._lanes: dict[int, FoldedLane] = {}
        self._before: dict[int, FoldedLane] = {}
        self._folded: FoldedHeat | None = None
        self._handed_on: dict[str, Any] = {}
        self._frozen: HeatSnapshot | None = None
        self._backup: HeatBook | None = None
        self._shared: list[Fact] = []

    @property
    def until_ms(self) -> int:
        """When counting stops: the time cap, or the end of the heat if that came first."""
        cap = self.event.workout.time_cap_ms
        return cap if self.ended_ms is None else min(cap, self.ended_ms)

    def add(self, fact: Fact) -> None:
        """Take a fact, in any order."""
        if of_backup(fact):
            self._add_to_backup(fact)
            return
        if _is_shared(fact):
            self._shared.append(fact)
            if self._backup is not None:
                self._backup.add(fact)
        self._take(fact)

    def _take(self, fact: Fact) -> None:
        self._folded = self._frozen = None
        for lane in self.ledger.add(fact):
            if lane is None:
                self._settle_heat()
            else:
                self._outdate(lane)

    def fill(self, facts: Sequence[Fact]) -> None:
        """Take many facts at once, in any order."""
        self._folded = self._frozen = None
        main, backup = _by_counter(facts)
        self.ledger.fill(main)
        self._shared += _shared_among(main)
        self._lanes.clear()
        self._settle_heat()
        for fact in backup:
            self._add_to_backup(fact)

    def _add_to_backup(self, fact: Fact) -> None:
        """Take a fact of a backup counter into the book that has the heat itself, and what backups counted."""
        self._frozen = None
        if self._backup is None:
            self._backup = _BackupBook(self._competition, self.heat)
            self._backup.fill(self._shared)
        self._backup.add(fact)

    def at(self, clock_ms: int) -> HeatSnapshot:
        """Freeze the heat as of a time on its clock: later facts do not change what is given.

        A heat whose clock stands is frozen once.
        """
        frozen = self._frozen
        if frozen is None or frozen.clock_ms != clock_ms:
            backup = None if self._backup is None else self._backup.at(clock_ms)
            frozen = self._frozen = HeatSnapshot(self.folded, clock_ms, backup=backup)
        return frozen

    @property
    def folded(self) -> FoldedHeat:
        """What the facts so far fold into."""
        if self._folded is None:
            self._folded = FoldedHeat(
                self.setup,
                {lane: self._lane(lane) for lane in self.heat.lanes},
                facts=self.ledger.standing(None),
                started=self.started,
                ended_ms=self.ended_ms,
                handed_on=self._handed_on,
            )
        return self._folded

    def last_ms(self) -> int:
        """The latest heat clock among the facts that stand."""
        lanes = (self.ledger.standing(lane) for lane in (None, *self.heat.lanes))
        return max((facts[-1].at_ms for facts in lanes if facts), default=0)

    def _lane(self, lane: int) -> FoldedLane:
        folded = self._lanes.get(lane)
        if folded is None:
            facts, before = self.ledger.standing(lane), self._before.pop(lane, None)
            folded = FoldedLane(self.setup, lane, facts, until_ms=self.until_ms, before=before)
            self._lanes[lane] = folded
        return folded

    def _outdate(self, lane: int) -> None:
        """Fold a lane again when it is asked for, from where it stood."""
        stood = self._lanes.pop(lane, None)
        if stood is not None:
            self._before[lane] = stood

    def _settle_heat(self) -> None:
        facts = self.ledger.standing(None)
        started = [fact for fact in facts if isinstance(fact, HeatStarted)]
        ended = [fact.at_ms for fact in facts if isinstance(fact, HeatEnded)]
        moves = [fact.unix_ms for fact in facts if isinstance(fact, HeatCalled | HeatStarted | HeatRecalled)]
        until_before = self.until_ms
        self.started = started[-1] if started else None
        self.ended_ms = min(ended, default=None)
        self.on_floor_unix_ms = max(moves, default=None)
        if self.until_ms != until_before:
            self._lanes.clear()


def _is_shared(fact: Fact) -> bool:
    """Tell whether a backup's book needs a fact too: of the heat itself, or one that may strike what was counted."""
    return lane_of(fact) is None or isinstance(fact, FactVoided)


def _by_counter(facts: Sequence[Fact]) -> tuple[Sequence[Fact], Sequence[Fact]]:
    """Part the main counters' facts from those of backups."""
    backups = backups_among({fact.sender for fact in facts})
    if not backups:
        return facts, ()
    return [fact for fact in facts if fact.sender not in backups], [fact for fact in facts if fact.sender in backups]


def _shared_among(facts: Sequence[Fact]) -> list[Fact]:
    """Give those of many facts that a backup's book needs too."""
    of_lanes = {kind for kind in set(map(type, facts)) if issubclass(kind, LaneFact)}
    return [fact for fact in facts if type(fact) not in of_lanes and _is_shared(fact)]


class _BackupBook(HeatBook):
    """What backup counters counted, folded as if they were the only ones."""

    def add(self, fact: Fact) -> None:
        """Take a fact of a backup, or of the heat itself."""
        self._take(fact)
