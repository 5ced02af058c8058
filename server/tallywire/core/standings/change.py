"""The overall standing before an event and as it stands during it, under any rules a competition may have.

It is worked out in two steps: `sight_of` reads a snapshot; `before_after` works on what was read, and may run in
another thread while more facts come in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, partial

from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.result_status import Stage, result_status, weakest
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition, Event
from tallywire.core.ranking.series import EventResults, Series
from tallywire.core.ranking.standing import Entrant, StandingRow
from tallywire.core.standings.overall import entrants, event_results, may_hold, part_key, series_of


class Earlier:
    """A division's results in the events before, how official those are, and the series they make."""

    def __init__(self, results: Mapping[str, EventResults], stages: Sequence[Stage]) -> None:
        self.results = results
        self.stages = stages
        self._series: list[Series | None] = []

    def series(self, make: Callable[[], Series | None]) -> Series | None:
        """Give the series up to the event before, made once: it stays until a fact changes what came before."""
        if not self._series:
            self._series.append(make())
        return self._series[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class DivisionSight:
    """What the standing of one division rests on; `held` are its entries under a medical hold in the event."""

    earlier: Earlier
    results: Mapping[str, EventResults]
    entrants: Sequence[Entrant]
    stage: Stage
    raced: int
    heats: int
    held: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class OverallChange:
    """One entry overall: as it stands, and `before` the event, which is None where nothing was there before."""

    now: StandingRow
    before: StandingRow | None

    @property
    def gained(self) -> Fraction:
        """What the event has made of the total so far: its points, what is dropped for them, what was deducted."""
        return self.now.total - (self.before.total if self.before is not None else 0)

    @property
    def moved(self) -> int:
        """Overall places won (positive) or lost (negative); none where nobody had a place before."""
        return self.before.place - self.now.place if self.before is not None else 0


class Changes:
    """A division overall, before an event and as it stands; worked out once, when it is asked for."""

    def __init__(self, competition: Competition, event: Event, division: str, sight: DivisionSight) -> None:
        self._asked = (competition, event, division)
        self.sight = sight

    @property
    def before(self) -> Series | None:
        """The series up to the event before; None when there was nothing before: no event, and no points brought along.

        It leaves out a deduction given in the event.
        """
        return self.sight.earlier.series(self._series_before)

    def _series_before(self) -> Series | None:
        (competition, event, division), results = self._asked, self.sight.earlier.results
        keys = {part_key(event, part) for part in event.scored_parts()}
        members = [
            replace(each, deductions=tuple(taken for taken in each.deductions if taken.event not in keys))
            for each in self._members
        ]
        known = any(each.before for each in members) or any(found.keys for found in results.values())
        return series_of(competition, division, members, results) if known else None

    @cached_property
    def after(self) -> Series:
        """The series with this event as it stands."""
        (competition, _, division), sight = self._asked, self.sight
        results = {**sight.earlier.results, **sight.results}
        return series_of(competition, division, self._members, results, onto=self.before)

    @property
    def _members(self) -> list[Entrant]:
        """Everybody, without the deductions of later events."""
        competition, event, _ = self._asked
        done = {part_key(each, part) for each in _events_before(competition, event) for part in each.scored_parts()}
        done |= {part_key(event, part) for part in event.scored_parts()} | {""}
        return [
            replace(each, deductions=tuple(taken for taken in each.deductions if taken.event in done))
            for each in self.sight.entrants
        ]

    @property
    def still_in(self) -> frozenset[str]:
        """Those whom the cuts before the event have left in."""
        series = self.before
        return frozenset(row.now.entry for row in self.rows) if series is None else frozenset(series.field)

    @property
    def held(self) -> frozenset[str]:
        """Its entries under a medical hold in the event."""
        return self.sight.held

    @cached_property
    def rows(self) -> tuple[OverallChange, ...]:
        """Everybody, best first as it stands."""
        before = {} if self.before is None else {row.entry: row for row in self.before.rows}
        return tuple(OverallChange(now=row, before=before.get(row.entry)) for row in self.after.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingSight:
    """One heat, and the changes of each division on its lanes, as seen at one moment."""

    state: HeatState
    changes: Mapping[str, Changes]


def changes_of(snapshot: Snapshot, heat: HeatSnapshot) -> dict[str, Changes]:
    """Give the changes of each division on the lanes of a heat: the same object until a fact makes another."""
    competition, event = snapshot.competition, heat.event
    earlier = _events_before(competition, event)
    heats = [each for one in [*earlier, event] for each in snapshot.heats_of(one.id)]

    def make(division: str) -> Changes:
        before = _earlier(snapshot, event, division, earlier)
        return Changes(competition, event, division, _sight(snapshot, heat, division, before))

    return {
        each: snapshot.kept(("changes", event.id, each), heats, partial(make, each), also=snapshot.deductions)
        for each in heat.divisions
    }


def sight_of(snapshot: Snapshot, heat: HeatSnapshot) -> StandingSight:
    """Look at the heat's event now, and at those before it."""
    return StandingSight(state=heat.settled, changes=changes_of(snapshot, heat))


def _events_before(competition: Competition, event: Event) -> list[Event]:
    events = list(competition.events.values())
    return events[: events.index(event)]


def _earlier(snapshot: Snapshot, event: Event, division: str, events: Sequence[Event]) -> Earlier:
    """What came before: the same object until a fact changes it, or a deduction comes in any heat."""
    heats = [heat for each in events for heat in snapshot.heats_of(each.id)]

    def make() -> Earlier:
        return Earlier(
            {key: found for each in events for key, found in event_results(snapshot, each, division).items()},
            [result_status(heat).stage for heat in heats if may_hold(heat, division) and heat.started is not None],
        )

    return snapshot.kept(("earlier", event.id, division), heats, make, also=snapshot.deductions)


def _sight(snapshot: Snapshot, heat: HeatSnapshot, division: str, earlier: Earlier) -> DivisionSight:
    heats = [each for each in snapshot.heats_of(heat.event.id) if may_hold(each, division)]
    stages = [result_status(each).stage for each in heats if each.started is not None]
    lanes = [(each, lane, entry) for each in heats for lane, entry in each.heat.lanes.items()]
    return DivisionSight(
        earlier=earlier,
        results=event_results(snapshot, heat.event, division),
        entrants=entrants(snapshot, division),
        stage=weakest([*earlier.stages, *stages]),
        raced=len(stages),
        heats=len(heats),
        held=frozenset(entry for each, lane, entry in lanes if each.conduct(lane).held),
    )
