"""The standing of a division from the book: every scored part of every event, deductions and cuts, at any time.

The running standing and the final one are the same: what has not been raced is not in it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tallywire.core.fold.book import ClockOf, CompetitionBook, last_fact
from tallywire.core.fold.heat import HeatBook
from tallywire.core.fold.result_status import Stage, result_status, weakest
from tallywire.core.formats.base import Status
from tallywire.core.model.competition import Competition, Division, Event, Part
from tallywire.core.ranking.series import EventPlan, EventResults, Series, run_series
from tallywire.core.ranking.standing import Deduction, Entrant
from tallywire.core.standings.judged import Judged, judged


def scored_parts(competition: Competition) -> Iterator[tuple[Event, Part, str]]:
    """Give every scored part of every event in the order of the file, with the name it has in a standing."""
    for event in competition.events.values():
        for part in event.scored_parts():
            yield event, part, part_key(event, part)


def part_key(event: Event, part: Part) -> str:
    """Give the name of a scored part among those of all events: the event's, and in one with parts its own behind."""
    return f"{event.id}/{part.id}" if event.parts else event.id


@dataclass(frozen=True, slots=True, kw_only=True)
class DivisionStanding:
    """A division as it stands: its series, whether nothing is open any more, and how official it is.

    `parts` names the scored parts that have begun, by key.
    """

    division: Division
    series: Series
    parts: Mapping[str, str]
    final: bool
    stage: Stage


def division_standing(book: CompetitionBook, division: str, *, clock_of: ClockOf = last_fact) -> DivisionStanding:
    """Give the standing of a division and how far it is."""
    results = _all_results(book, division, clock_of)
    heats = [heat for heat in book.heats.values() if may_hold(book, heat, division)]
    open_events = {heat.event.id for heat in heats}
    complete = [results[key].complete for event, _, key in scored_parts(book.competition) if event.id in open_events]
    return DivisionStanding(
        division=book.competition.divisions[division],
        series=_run(book, division, results),
        parts={key: part.name for _, part, key in scored_parts(book.competition) if _held(results[key])},
        final=bool(complete) and all(complete),
        stage=weakest([result_status(heat, clock_of(heat)).stage for heat in heats if heat.started is not None]),
    )


def division_series(book: CompetitionBook, division: str, *, clock_of: ClockOf = last_fact) -> Series:
    """Give a division's scores, cuts and standing as they stand."""
    return _run(book, division, _all_results(book, division, clock_of))


def field_before(
    book: CompetitionBook, event: str, division: str, *, clock_of: ClockOf = last_fact
) -> frozenset[str] | None:
    """Give who is in an event after the cuts before it; None without one, or while one is still to be made.

    What is found is kept in the book until a fact about an earlier event comes.
    """
    if not book.competition.is_cut_before(event, division):
        return None
    events = list(book.competition.events)
    earlier = events[: events.index(event)]
    revisions = tuple(book.revisions[each] for each in earlier)
    known = book.fields.get((event, division))
    if known is not None and known[0] == revisions:
        return known[1]
    field = _survivors(book, earlier, division, clock_of)
    if field is not None:
        book.fields[event, division] = (revisions, field)
    return field


def field_size_in(book: CompetitionBook, event: str, division: str, *, clock_of: ClockOf = last_fact) -> int:
    """Give how many an event's points are for: who survived the cuts, or who is expected while one is to be made."""
    field = field_before(book, event, division, clock_of=clock_of)
    return book.competition.field_size(event, division) if field is None else len(field)


def series_up_to(book: CompetitionBook, division: str, events: Sequence[str], *, clock_of: ClockOf) -> Series:
    """Give a division's scores, cuts and standing from these events alone, as if the others had not begun."""
    results: dict[str, EventResults] = {}
    for each in events:
        results |= event_results(book, book.competition.events[each], division, clock_of=clock_of)
    return _run(book, division, results)


def _survivors(
    book: CompetitionBook, earlier: Sequence[str], division: str, clock_of: ClockOf
) -> frozenset[str] | None:
    series = series_up_to(book, division, earlier, clock_of=clock_of)
    to_make = sum(book.competition.cut_after(each, division) is not None for each in earlier)
    return frozenset(series.field) if len(series.cuts) == to_make else None


def _all_results(book: CompetitionBook, division: str, clock_of: ClockOf) -> dict[str, EventResults]:
    events = book.competition.events.values()
    return {
        key: found for event in events for key, found in event_results(book, event, division, clock_of=clock_of).items()
    }


def _held(results: EventResults) -> bool:
    return bool(results.keys)


def event_results(book: CompetitionBook, event: Event, division: str, *, clock_of: ClockOf) -> dict[str, EventResults]:
    """Give a division's results in each scored part of one event, by the name the part has in a standing."""
    return {
        part_key(event, part): _results(book, event, judged(book, event, part, division, clock_of=clock_of), division)
        for part in event.scored_parts()
    }


def entrants(book: CompetitionBook, division: str) -> list[Entrant]:
    """Give everyone of a division with what it brings and what the head judge took from it."""
    last = {event.id: key for event, _, key in scored_parts(book.competition)}
    deductions = _deductions(book, last)
    return [
        Entrant(entry=entry.id, before=Fraction(entry.points_before), deductions=tuple(deductions[entry.id]))
        for entry in book.competition.entries.values()
        if entry.division == division
    ]


def series_of(
    competition: Competition, division: str, members: Sequence[Entrant], results: Mapping[str, EventResults]
) -> Series:
    """Give a division's scores, cuts and standing from its results in the events that have begun."""
    last = {event.id: key for event, _, key in scored_parts(competition)}
    left = {each.entry: competition.entries[each.entry].left_after for each in members}
    return run_series(
        members,
        plans(competition, division),
        {key: found for key, found in results.items() if _held(found)},
        competition.standing_rules,
        withdrawn={entry: last[event] for entry, event in left.items() if event is not None},
    )


def _run(book: CompetitionBook, division: str, results: Mapping[str, EventResults]) -> Series:
    return series_of(book.competition, division, entrants(book, division), results)


def plans(competition: Competition, division: str) -> list[EventPlan]:
    """Give the plan of every scored part; a cut after an event comes after its last part."""
    last = {event.id: key for event, _, key in scored_parts(competition)}
    return [
        EventPlan(
            event=key,
            table=competition.points[part.points],
            ties=event.ties,
            cut=competition.cut_after(event.id, division) if key == last[event.id] else None,
        )
        for event, part, key in scored_parts(competition)
    ]


def _results(book: CompetitionBook, event: Event, rows: list[Judged], division: str) -> EventResults:
    kept = not book.competition.drop_disqualified
    return EventResults(
        keys={row.entry.id: row.outcome.key for row in rows},
        no_result=frozenset(row.entry.id for row in rows if not row.outcome.status.has_result),
        no_points=frozenset(row.entry.id for row in rows if not row.earns),
        must_count=frozenset(row.entry.id for row in rows if kept and row.outcome.status is Status.DISQUALIFIED),
        complete=bool(rows) and all(row.settled for row in rows) and _all_raced(book, event, division),
    )


def _all_raced(book: CompetitionBook, event: Event, division: str) -> bool:
    """Every heat of the event has started that has an entry of the division, or lanes that are still to be seeded."""
    return all(heat.started is not None for heat in book.heats_of(event.id) if may_hold(book, heat, division))


def may_hold(book: CompetitionBook, heat: HeatBook, division: str) -> bool:
    """Tell whether a heat has an entry of the division on its lanes, or is still without lanes."""
    on_lanes = [book.competition.entry_on(heat.heat, lane).division for lane in heat.heat.lanes]
    return division in on_lanes or not on_lanes


def _deductions(book: CompetitionBook, last: dict[str, str]) -> dict[str, list[Deduction]]:
    """What the head judge took from each entry, at the event whose heat it was on the floor in."""
    found: dict[str, list[Deduction]] = {entry: [] for entry in book.competition.entries}
    for heat in book.heats.values():
        for lane, entry in heat.heat.lanes.items():
            found[entry] += [
                Deduction(points=Fraction(fact.points), reason=fact.reason, event=last[heat.event.id])
                for fact in heat.conduct(lane).deductions
            ]
    return found


def still_in(book: CompetitionBook, division: str, *, before: str) -> list[str]:
    """Give who races an event, best first: those in the field after the events before it, who have not left."""
    events = list(book.competition.events)
    earlier = set(events[: events.index(before)])
    series = division_series(book, division)
    entries = book.competition.entries
    return [
        row.entry for row in series.rows if row.entry in series.field and entries[row.entry].left_after not in earlier
    ]
