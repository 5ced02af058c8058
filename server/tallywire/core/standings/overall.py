"""The standing of a division from a snapshot: every scored part of every event, deductions and cuts, at any time.

The running standing and the final one are made by the same rules: what has not been raced is not in it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from tallywire.core.fold.result_status import Stage, result_status, weakest
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.formats.base import Status
from tallywire.core.model.competition import Competition, Division, Event, Part
from tallywire.core.ranking.series import EventPlan, EventResults, Series, expected, run_series
from tallywire.core.ranking.standing import Deduction, Entrant
from tallywire.core.standings.judged import Judged, judged

T = TypeVar("T")


def scored_parts(competition: Competition) -> Iterator[tuple[Event, Part, str]]:
    """Give every scored part of every event in the order of the file, with the name it has in a standing."""
    for event in competition.events.values():
        for part in event.scored_parts():
            yield event, part, part_key(event, part)


def part_key(event: Event, part: Part) -> str:
    """Give the key of a scored part among those of all events: the event's id, with the part's behind it if any."""
    return f"{event.id}/{part.id}" if event.parts else event.id


@dataclass(frozen=True, slots=True, kw_only=True)
class DivisionStanding:
    """A division as it stands: its series, whether it is complete, and how official it is.

    `parts` names the scored parts that have begun, by key.
    """

    division: Division
    series: Series
    parts: Mapping[str, str]
    final: bool
    stage: Stage


def division_standing(snapshot: Snapshot, division: str) -> DivisionStanding:
    """Give the standing of a division, and how official it is."""
    results = _all_results(snapshot, division)
    heats = [heat for heat in snapshot.heats.values() if may_hold(heat, division)]
    open_events = {heat.event.id for heat in heats}
    parts = list(scored_parts(snapshot.competition))
    complete = [results[key].complete for event, _, key in parts if event.id in open_events]
    return DivisionStanding(
        division=snapshot.competition.divisions[division],
        series=_run(snapshot, division, results),
        parts={key: part.name for _, part, key in parts if _held(results[key])},
        final=bool(complete) and all(complete),
        stage=weakest([result_status(heat).stage for heat in heats if heat.started is not None]),
    )


def division_series(snapshot: Snapshot, division: str) -> Series:
    """Give a division's scores, cuts and standing as they stand."""
    return _run(snapshot, division, _all_results(snapshot, division))


def field_before(snapshot: Snapshot, event: str, division: str) -> frozenset[str] | None:
    """Give those who are in an event, None for the whole division: the survivors of the cuts made before it.

    While a cut before the event is still to be made, these are the entries on its lanes who survived the earlier cuts.
    """
    competition = snapshot.competition
    if not snapshot.kept(("is cut", event, division), (), lambda: competition.is_cut_before(event, division)):
        return None
    earlier = snapshot.events_before(event)
    return _kept(snapshot, ("field", event, division), earlier, lambda: _field(snapshot, event, division))


def _field(snapshot: Snapshot, event: str, division: str) -> frozenset[str]:
    found = series_up_to(snapshot, division, snapshot.events_before(event)).field
    made = cuts_are_made(snapshot, event, division)
    return frozenset(found) if made else expected(found, snapshot.competition.listed(event))


def cuts_are_made(snapshot: Snapshot, event: str, division: str) -> bool:
    """Tell whether every cut of a division before an event has been made."""
    earlier = snapshot.events_before(event)
    to_make = sum(snapshot.competition.cut_after(each, division) is not None for each in earlier)
    return len(series_up_to(snapshot, division, earlier).cuts) == to_make


def field_size_in(snapshot: Snapshot, event: str, division: str) -> int:
    """Give how many an event's points are for: all who are in it."""
    field, competition = field_before(snapshot, event, division), snapshot.competition
    if field is not None:
        return len(field)
    return snapshot.kept(("field size", event, division), (), lambda: competition.field_size(event, division))


def series_up_to(snapshot: Snapshot, division: str, events: Sequence[str]) -> Series:
    """Give a division's scores, cuts and standing from these events alone, as if the others had not begun."""
    key = ("series", division, *events)
    return _kept(snapshot, key, events, lambda: _series_of_events(snapshot, division, events))


def _kept(snapshot: Snapshot, key: Hashable, events: Sequence[str], make: Callable[[], T]) -> T:
    """Keep a result until a heat of these events changes, or a deduction in any heat."""
    heats = [heat for each in events for heat in snapshot.heats_of(each)]
    return snapshot.kept(key, heats, make, also=snapshot.deductions)


def _series_of_events(snapshot: Snapshot, division: str, events: Sequence[str]) -> Series:
    results: dict[str, EventResults] = {}
    for each in events:
        results |= event_results(snapshot, snapshot.competition.events[each], division)
    return _run(snapshot, division, results)


def _all_results(snapshot: Snapshot, division: str) -> dict[str, EventResults]:
    events = snapshot.competition.events.values()
    return {key: found for event in events for key, found in event_results(snapshot, event, division).items()}


def _held(results: EventResults) -> bool:
    return bool(results.keys)


def event_results(snapshot: Snapshot, event: Event, division: str) -> Mapping[str, EventResults]:
    """Give a division's results in each scored part of one event, by the name the part has in a standing."""
    heats = snapshot.heats_of(event.id)
    return snapshot.kept(("results", event.id, division), heats, lambda: _event_results(snapshot, event, division))


def _event_results(snapshot: Snapshot, event: Event, division: str) -> dict[str, EventResults]:
    return {
        part_key(event, part): _results(snapshot, event, judged(snapshot, event, part, division), division)
        for part in event.scored_parts()
    }


def entrants(snapshot: Snapshot, division: str) -> list[Entrant]:
    """Give everyone of a division with what it brings and what the head judge took from it."""
    last = {event.id: key for event, _, key in scored_parts(snapshot.competition)}
    deductions = _deductions(snapshot, last)
    return [
        Entrant(entry=entry.id, before=Fraction(entry.points_before), deductions=tuple(deductions[entry.id]))
        for entry in snapshot.competition.entries.values()
        if entry.division == division
    ]


def series_of(
    competition: Competition,
    division: str,
    members: Sequence[Entrant],
    results: Mapping[str, EventResults],
    *,
    onto: Series | None = None,
) -> Series:
    """Give a division's scores, cuts and standing from its results in the events that have begun.

    `onto` is the series of the same members before the last of these events.
    """
    last = {event.id: key for event, _, key in scored_parts(competition)}
    left = {each.entry: competition.entries[each.entry].left_after for each in members}
    return run_series(
        members,
        plans(competition, division),
        {key: found for key, found in results.items() if _held(found)},
        competition.standing_rules,
        withdrawn={entry: last[event] for entry, event in left.items() if event is not None},
        onto=onto,
    )


def _run(snapshot: Snapshot, division: str, results: Mapping[str, EventResults]) -> Series:
    return series_of(snapshot.competition, division, entrants(snapshot, division), results)


def plans(competition: Competition, division: str) -> list[EventPlan]:
    """Give the plan of every scored part; a cut after an event comes after its last part."""
    last = {event.id: key for event, _, key in scored_parts(competition)}
    return [
        EventPlan(
            event=key,
            table=competition.points[part.points],
            ties=event.ties,
            cut=competition.cut_after(event.id, division) if key == last[event.id] else None,
            listed=competition.listed(event.id) if competition.cuts else frozenset(),
            in_count_back=part.in_count_back,
            vacant=part.vacant_in(division),
        )
        for event, part, key in scored_parts(competition)
    ]


def _results(snapshot: Snapshot, event: Event, rows: list[Judged], division: str) -> EventResults:
    kept = not snapshot.competition.drop_disqualified
    return EventResults(
        keys={row.entry.id: row.outcome.key for row in rows},
        no_result=frozenset(row.entry.id for row in rows if not row.outcome.status.has_result),
        no_points=frozenset(row.entry.id for row in rows if not row.earns),
        must_count=frozenset(row.entry.id for row in rows if kept and row.outcome.status is Status.DISQUALIFIED),
        complete=bool(rows) and all(row.settled for row in rows) and _all_raced(snapshot, event, division),
    )


def _all_raced(snapshot: Snapshot, event: Event, division: str) -> bool:
    """Whether every heat of the event that may hold an entry of the division has started."""
    return all(heat.started is not None for heat in snapshot.heats_of(event.id) if may_hold(heat, division))


def may_hold(heat: HeatSnapshot, division: str) -> bool:
    """Tell whether a heat has an entry of the division on its lanes, or still has to be seeded."""
    return division in heat.divisions or not heat.heat.lanes


def _deductions(snapshot: Snapshot, last: dict[str, str]) -> dict[str, list[Deduction]]:
    """The deductions of each entry, each at the event in whose heat it was given."""
    found: dict[str, list[Deduction]] = {entry: [] for entry in snapshot.competition.entries}
    for fact in snapshot.deductions:
        heat = snapshot.heats[fact.heat]
        deduction = Deduction(points=Fraction(fact.points), reason=fact.reason, event=last[heat.event.id])
        found[heat.heat.lanes[fact.lane]].append(deduction)
    return found


def still_in(snapshot: Snapshot, division: str, *, before: str) -> list[str]:
    """Give those who race an event, best first: all who are in the field before it and have not left."""
    earlier = snapshot.events_before(before)
    series = division_series(snapshot, division)
    entries = snapshot.competition.entries
    return [
        row.entry for row in series.rows if row.entry in series.field and entries[row.entry].left_after not in earlier
    ]
