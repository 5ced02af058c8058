"""The overall standing before an event and as it stands during it, under any rules a competition may have.

It is worked out in two steps: `sight_of` reads a snapshot; `before_after` works on what was read, and may run in
another thread while more facts come in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.result_status import Stage, result_status, weakest
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition, Event
from tallywire.core.ranking.series import EventResults, Series
from tallywire.core.ranking.standing import Entrant
from tallywire.core.standings.overall import entrants, event_results, may_hold, part_key, series_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """A division's results in the events before, and how official those are."""

    results: Mapping[str, EventResults]
    stages: Sequence[Stage]


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
class StandingSight:
    """One heat, and for each division on its lanes what the standing rests on, as seen at one moment."""

    state: HeatState
    divisions: Mapping[str, DivisionSight]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeAfter:
    """A division's series up to the event before, and with this event as it stands.

    `before` is None when there was nothing before: no event, and no points brought along.
    """

    before: Series | None
    after: Series


def sight_of(snapshot: Snapshot, heat: HeatSnapshot) -> StandingSight:
    """Look at the heat's event now, and at those before it."""
    earlier = _events_before(snapshot.competition, heat.event)
    return StandingSight(
        state=heat.settled,
        divisions={each: _sight(snapshot, heat, each, _earlier(snapshot, each, earlier)) for each in heat.divisions},
    )


def before_after(competition: Competition, event: Event, division: str, sight: DivisionSight) -> BeforeAfter:
    """Give the standing before the event and as it stands. The first leaves out a deduction given in the event."""
    keys = {part_key(event, part) for part in event.scored_parts()}
    first = [
        replace(each, deductions=tuple(taken for taken in each.deductions if taken.event not in keys))
        for each in _until(competition, event, sight.entrants)
    ]
    known = any(each.before for each in first) or any(found.keys for found in sight.earlier.results.values())
    before = series_of(competition, division, first, sight.earlier.results) if known else None
    last = _until(competition, event, sight.entrants)
    return BeforeAfter(
        before=before, after=series_of(competition, division, last, {**sight.earlier.results, **sight.results})
    )


def _until(competition: Competition, event: Event, members: Sequence[Entrant]) -> list[Entrant]:
    """The same without the deductions of later events."""
    done = {part_key(each, part) for each in _events_before(competition, event) for part in each.scored_parts()}
    done |= {part_key(event, part) for part in event.scored_parts()} | {""}
    return [
        replace(each, deductions=tuple(taken for taken in each.deductions if taken.event in done)) for each in members
    ]


def _events_before(competition: Competition, event: Event) -> list[Event]:
    events = list(competition.events.values())
    return events[: events.index(event)]


def _earlier(snapshot: Snapshot, division: str, events: Sequence[Event]) -> Earlier:
    heats = [heat for event in events for heat in snapshot.heats_of(event.id) if may_hold(heat, division)]
    return Earlier(
        results={key: found for event in events for key, found in event_results(snapshot, event, division).items()},
        stages=[result_status(heat).stage for heat in heats if heat.started is not None],
    )


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
