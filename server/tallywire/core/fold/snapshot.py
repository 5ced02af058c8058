"""The competition at one instant: every heat with one clock. Everything shown of that instant is made from it.

A snapshot never changes: facts that come after it are not in it, and it asks no clock. Anything worked out from it is
kept, from one snapshot to the next, as long as its sources stay the same.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import is_
from typing import Any, TypeVar, cast

from tallywire.core.facts import Fact, HeatStarted, PointsDeducted
from tallywire.core.fold.booth import BoothState
from tallywire.core.fold.conduct import Conduct
from tallywire.core.fold.floor import Floors
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.judged_heat import FoldedHeat
from tallywire.core.fold.lane import FoldedLane
from tallywire.core.fold.show import OutputState
from tallywire.core.formats.base import Outcome, Tally
from tallywire.core.model.competition import Competition, Event, Heat
from tallywire.core.model.workout import Mark, Plan

T = TypeVar("T")


class HeatSnapshot:
    """One heat at one time on its clock. The clock does not stop at the cap.

    `backup` is the same heat as backup counters counted it; None while there is none.
    """

    def __init__(self, folded: FoldedHeat, clock_ms: int, *, backup: HeatSnapshot | None = None) -> None:
        self._folded = folded
        self.backup = backup
        self.clock_ms = clock_ms
        self.judged = folded.judged(clock_ms)
        self.heat: Heat = folded.setup.heat
        self.event: Event = folded.setup.event
        self.started: HeatStarted | None = folded.started
        self.ended_ms: int | None = folded.ended_ms
        self.over: bool = self.judged.over

    def of_backup(self) -> HeatSnapshot:
        """Give the heat as backup counters counted it: before the first of their facts nobody has done anything."""
        if self.backup is not None:
            return self.backup
        folded = self._folded
        lanes = {lane: FoldedLane(folded.setup, lane, (), until_ms=self.until_ms) for lane in self.heat.lanes}
        blank = FoldedHeat(folded.setup, lanes, facts=folded.facts, started=folded.started, ended_ms=folded.ended_ms)
        return HeatSnapshot(blank, self.clock_ms)

    @property
    def plan(self) -> Plan:
        """The arithmetic of the workout."""
        return self._folded.setup.plan

    @property
    def divisions(self) -> Mapping[str, Sequence[int]]:
        """The lanes of each division on the floor; first the division of the first lane."""
        return self._folded.setup.divisions

    @property
    def facts(self) -> Sequence[Fact]:
        """The facts that stand about the heat itself, in order."""
        return self._folded.facts

    @property
    def until_ms(self) -> int:
        """When counting stops: the time cap, or the end of the heat if that came first."""
        cap = self.event.workout.time_cap_ms
        return cap if self.ended_ms is None else min(cap, self.ended_ms)

    @property
    def next_moment(self) -> int | None:
        """The next time on the clock at which the heat changes without a fact; None when the heat does not run."""
        if self.started is None or self.over:
            return None
        return next((moment for moment in self._folded.setup.moments if moment > self.clock_ms), None)

    def tally(self, lane: int) -> Tally:
        """Give one lane's tally."""
        return self._folded.lanes[lane].tally

    def conduct(self, lane: int) -> Conduct:
        """Give one lane's conduct."""
        return self._folded.lanes[lane].conduct

    def splits(self, lane: int) -> Mapping[Mark, int]:
        """Give the times of the station ends one lane has passed."""
        return self._folded.lanes[lane].splits

    def uncertain_ms(self, lane: int, at_ms: int) -> int:
        """Give how far off the time of one lane's fact at this time can be; 0 where nothing says so."""
        return self._folded.lanes[lane].uncertain_ms(at_ms)

    def outcome(self, lane: int) -> Outcome:
        """Give what one lane's work is worth now."""
        return self.judged.outcome(lane)

    @cached_property
    def state(self) -> HeatState:
        """The state of every lane at the time on the clock."""
        return self._state(self.clock_ms)

    @cached_property
    def settled(self) -> HeatState:
        """The state of every lane; once the heat is over, with the clock standing at its end."""
        return self.state if self.clock_ms <= self.until_ms else self._state(self.until_ms)

    @property
    def held(self) -> frozenset[str]:
        """The entries on its lanes under a medical hold."""
        lanes = self._folded.lanes.values()
        return self.once("held", lambda: frozenset(lane.entry.id for lane in lanes if lane.conduct.held))

    @property
    def deductions(self) -> Sequence[PointsDeducted]:
        """The points the head judge took from entries in this heat, in the order of its lanes."""
        lanes = self._folded.lanes.values()
        return self.once("deductions", lambda: [fact for lane in lanes for fact in lane.conduct.deductions])

    def once(self, name: str, make: Callable[[], T]) -> T:
        """Give what was made under this name since the last fact or moment, or make it.

        It may depend on this heat alone.
        """
        return self.judged.once(name, make)

    def once_of(self, lane: int, name: str, make: Callable[[], T]) -> T:
        """Give what was made of a lane under this name, or make it; it is kept while the lane's facts and outcome stay
        the same.

        It may depend on the lane, on the moments that have passed and on the competition's file alone.
        """
        return self._folded.lanes[lane].once(f"{name} {self.judged.as_of_ms}", self.outcome(lane), make)

    def _state(self, clock_ms: int) -> HeatState:
        judged = self.judged
        return HeatState(
            heat=self.heat,
            event=self.event,
            plan=self.plan,
            started=self.started,
            ended_ms=self.ended_ms,
            over=self.over,
            clock_ms=clock_ms,
            leader=judged.leader,
            order=judged.order,
            lanes=judged.lanes,
            handed_on=self._folded.handed_on,
        )


class Kept:
    """Results worked out from several unchanging sources, each kept until one of its sources is replaced."""

    def __init__(self) -> None:
        self._found: dict[Hashable, tuple[tuple[object, ...], Any]] = {}

    def get(self, key: Hashable, sources: tuple[object, ...], make: Callable[[], T]) -> T:
        """Give what was made under a key from exactly these sources, or make it."""
        found = self._found.get(key)
        if found is None or len(found[0]) != len(sources) or not all(map(is_, found[0], sources)):
            found = self._found[key] = (sources, make())
        return cast(T, found[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What a snapshot has besides the heats: which is on each floor, the show, the booth of each heat that has one, and
    wall time (0 for a recording)."""

    floors: Floors
    outputs: Mapping[str, OutputState]
    booth: Mapping[str, BoothState]
    unix_ms: int


class Snapshot:
    """All heats at one instant, the show, and which heat is on each floor."""

    def __init__(self, competition: Competition, heats: Mapping[str, HeatSnapshot], *, rest: Rest, kept: Kept) -> None:
        self.competition = competition
        self.heats = heats
        self.floors = rest.floors
        self.outputs = rest.outputs
        self.booth = rest.booth
        self.unix_ms = rest.unix_ms
        self._kept = kept
        self._of_event: dict[str, tuple[HeatSnapshot, ...]] = {}

    def heat(self, name: str) -> HeatSnapshot:
        """Give a heat by its id, or the one on a floor by the floor's name on the wire."""
        return self.heats[self.floors.heat_of(name)]

    def on_floor(self, floor: str) -> list[HeatSnapshot]:
        """Give the heats of a floor in the order of the file."""
        return [each for each in self.heats.values() if each.heat.floor == floor]

    def heats_of(self, event: str) -> tuple[HeatSnapshot, ...]:
        """Give the heats of an event in the order of the file."""
        found = self._of_event.get(event)
        if found is None:
            found = tuple(each for each in self.heats.values() if each.event.id == event)
            self._of_event[event] = found
        return found

    def events_before(self, event: str) -> list[str]:
        """Name the events before one, in the order of the file."""
        events = list(self.competition.events)
        return events[: events.index(event)]

    def kept(
        self, key: Hashable, heats: Sequence[HeatSnapshot], make: Callable[[], T], *, also: Sequence[object] = ()
    ) -> T:
        """Give what this or an earlier snapshot made under a key since one of these heats last changed, or make it.

        It may depend on these heats, on what `also` names and on the competition's file alone, and not on the clock
        between two moments.
        """
        return self._kept.get(key, (*(each.judged for each in heats), *also), make)

    @property
    def held(self) -> frozenset[str]:
        """The entries under a medical hold, whichever heat the hold was placed in."""
        return frozenset().union(*(heat.held for heat in self.heats.values()))

    @cached_property
    def deductions(self) -> Sequence[PointsDeducted]:
        """The points the head judge took from entries in any heat."""
        return [fact for heat in self.heats.values() for fact in heat.deductions]
