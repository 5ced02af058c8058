"""What the event over all its heats adds to the lanes of one heat."""

from __future__ import annotations

from tallywire.core.book import ClockOf, CompetitionBook
from tallywire.core.event_table import best_result, event_table
from tallywire.core.fold import HeatBook
from tallywire.core.views.heat import InEvent


def in_event(book: CompetitionBook, heat: HeatBook, *, clock_of: ClockOf) -> dict[int, InEvent]:
    """Give each lane's place in the event, what it is worth, and the result of the other heats to beat.

    In an event with several scored parts it is the first of them. Empty before the heat has started.
    """
    part = heat.event.scored_parts()[0]
    divisions = {book.competition.entry_on(heat.heat, lane).division for lane in heat.heat.lanes}
    found: dict[int, InEvent] = {}
    for division in divisions:
        rows = event_table(book, heat.event, part, division, clock_of=clock_of)
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
