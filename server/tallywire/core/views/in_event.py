"""What the event over all its heats adds to the lanes of one heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tallywire.core.book import ClockOf, CompetitionBook
from tallywire.core.event_table import EventRow, best_result, event_table
from tallywire.core.fold import HeatBook
from tallywire.core.views.heat import InEvent


def in_event(book: CompetitionBook, heat: HeatBook, *, clock_of: ClockOf) -> dict[int, InEvent]:
    """Give each lane's place in the event, what it is worth, and the result of the other heats to beat.

    In an event with several scored parts it is the first of them. Empty before the heat has started.
    """
    return lanes_in_event(event_rows(book, heat, clock_of=clock_of, parts=slice(1)), heat)


def event_rows(
    book: CompetitionBook, heat: HeatBook, *, clock_of: ClockOf, parts: slice = slice(None)
) -> dict[str, tuple[tuple[EventRow, ...], ...]]:
    """Give the event's table of every scored part, for each division on the lanes of a heat."""
    divisions = dict.fromkeys(book.competition.entry_on(heat.heat, lane).division for lane in heat.heat.lanes)
    return {
        division: tuple(
            tuple(event_table(book, heat.event, part, division, clock_of=clock_of))
            for part in heat.event.scored_parts()[parts]
        )
        for division in divisions
    }


def lanes_in_event(tables: Mapping[str, Sequence[Sequence[EventRow]]], heat: HeatBook) -> dict[int, InEvent]:
    """Give the lanes of one heat from the event's tables."""
    found: dict[int, InEvent] = {}
    for rows in (parts[0] for parts in tables.values()):
        best = best_result(rows, before_heat=heat.heat.id)
        found |= {
            row.lane: InEvent(
                place=row.place,
                shared=row.shared,
                of=len(rows),
                points=plain(row.points),
                to_beat=None if best is None else best.outcome.result,
            )
            for row in rows
            if row.heat == heat.heat.id
        }
    return found


def plain(points: object) -> float:
    """Give exact points as a number for JSON: whole where it is whole, else to three decimals."""
    value = float(points)  # type: ignore[arg-type]
    return int(value) if value.is_integer() else round(value, 3)
