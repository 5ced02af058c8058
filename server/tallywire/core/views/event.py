"""The event view: the divisions of one heat, each over all heats of the event, while later heats still race."""

from __future__ import annotations

from tallywire.core.fold.book import ClockOf, CompetitionBook
from tallywire.core.fold.heat import HeatBook, HeatState
from tallywire.core.fold.result_status import Stage, result_status, weakest
from tallywire.core.model.competition import Event, Part
from tallywire.core.ranking.points import plain
from tallywire.core.standings.event_table import EventRow, event_table
from tallywire.core.standings.overall import may_hold
from tallywire.core.views.heat import Frame, heat_frame


def event_frame(book: CompetitionBook, heat: HeatBook, state: HeatState, *, clock_of: ClockOf) -> Frame:
    """Give the heat view with the ranking of the event by division; of an event with several scores, the first.

    Every one of those stands there as well, by its id and the division with a slash between.
    The stage is that of all heats together, and live as long as one has not started. A lane on medical hold is not in
    the ranking; places are not closed up.
    """
    divisions = list(dict.fromkeys(book.competition.entry_on(heat.heat, lane).division for lane in heat.heat.lanes))
    stages = [_stage(book, heat, division, clock_of) for division in divisions]
    return heat_frame(book.competition, state) | {
        "view": "event",
        "result": {"stage": weakest(stages).value},
        "ranking": {
            name: _ranking(book, heat, part, division, clock_of)
            for division in divisions
            for name, part in _tables(heat.event, division)
        },
    }


def _tables(event: Event, division: str) -> list[tuple[str, Part]]:
    """The tables of a division by name: that of the first score, and of each of several."""
    return [(division, event.scored_parts()[0]), *((f"{part.id}/{division}", part) for part in event.parts)]


def _ranking(book: CompetitionBook, heat: HeatBook, part: Part, division: str, clock_of: ClockOf) -> Frame:
    rows = event_table(book, heat.event, part, division, clock_of=clock_of)
    shown = [row for row in rows if not book.heats[row.heat].conduct(row.lane).held]
    heats = _heats(book, heat, division)
    named = {"part": part.name} if heat.event.parts else {}
    return named | {
        "heats": len(heats),
        "raced": sum(each.started is not None for each in heats),
        "over": sum(each.started is not None and each.over(clock_of(each)) for each in heats),
        "order": [row.entry.id for row in shown],
        "rows": {row.entry.id: _row(book, heat, row) for row in shown},
    }


def _row(book: CompetitionBook, heat: HeatBook, row: EventRow) -> Frame:
    data: Frame = {
        "entry": row.entry.id,
        "name": row.entry.name,
        "short": row.entry.short,
        "heat": book.heats[row.heat].heat.name,
        "status": row.outcome.status.value,
        "place": row.place,
        "shared": row.shared,
        "result": row.outcome.result,
        "points": plain(row.points),
        "settled": row.settled,
    }
    return data | ({"lane": row.lane} if row.heat == heat.heat.id else {})


def _stage(book: CompetitionBook, heat: HeatBook, division: str, clock_of: ClockOf) -> Stage:
    heats = _heats(book, heat, division)
    if any(each.started is None for each in heats):
        return Stage.LIVE
    return weakest([result_status(each, clock_of(each)).stage for each in heats])


def _heats(book: CompetitionBook, heat: HeatBook, division: str) -> list[HeatBook]:
    return [each for each in book.heats_of(heat.event.id) if may_hold(book, each, division)]
