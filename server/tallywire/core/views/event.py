"""The event view: the divisions of one heat, each over all heats of the event, while later heats still race."""

from __future__ import annotations

from tallywire.core.fold.result_status import Stage, result_status, weakest
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Event, Part
from tallywire.core.ranking.points import plain
from tallywire.core.standings.event_table import EventRow, event_table
from tallywire.core.standings.overall import may_hold
from tallywire.core.views.heat import Frame, heat_frame


def event_frame(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    """Give the heat view with the ranking of the event by division; of an event with several scores, the first.

    Each of the scores has a ranking as well, named by its id and the division with a slash between them. The stage is
    that of all heats together; it is live as long as one of them has not started. A lane on medical hold is not in the
    ranking; places are not closed up.
    """
    stages = [_stage(snapshot, heat, division) for division in heat.divisions]
    return heat_frame(snapshot.competition, heat.state) | {
        "view": "event",
        "result": {"stage": weakest(stages).value},
        "ranking": {
            name: _ranking(snapshot, heat, part, division)
            for division in heat.divisions
            for name, part in _tables(heat.event, division)
        },
    }


def _tables(event: Event, division: str) -> list[tuple[str, Part]]:
    """The tables of a division by name: that of the first score, and one for each score where there are several."""
    return [(division, event.scored_parts()[0]), *((f"{part.id}/{division}", part) for part in event.parts)]


def _ranking(snapshot: Snapshot, heat: HeatSnapshot, part: Part, division: str) -> Frame:
    rows = event_table(snapshot, heat.event, part, division)
    shown = [row for row in rows if not snapshot.heats[row.heat].conduct(row.lane).held]
    heats = _heats(snapshot, heat, division)
    named = {"part": part.name} if heat.event.parts else {}
    return named | {
        "heats": len(heats),
        "raced": sum(each.started is not None for each in heats),
        "over": sum(each.started is not None and each.over for each in heats),
        "order": [row.entry.id for row in shown],
        "rows": {row.entry.id: _row(snapshot, heat, row) for row in shown},
    }


def _row(snapshot: Snapshot, heat: HeatSnapshot, row: EventRow) -> Frame:
    data: Frame = {
        "entry": row.entry.id,
        "name": row.entry.name,
        "short": row.entry.short,
        "home": row.entry.home,
        "heat": snapshot.heats[row.heat].heat.name,
        "status": row.outcome.status.value,
        "place": row.place,
        "shared": row.shared,
        "result": row.outcome.result,
        "points": plain(row.points),
        "settled": row.settled,
    }
    return data | ({"lane": row.lane} if row.heat == heat.heat.id else {})


def _stage(snapshot: Snapshot, heat: HeatSnapshot, division: str) -> Stage:
    heats = _heats(snapshot, heat, division)
    if any(each.started is None for each in heats):
        return Stage.LIVE
    return weakest([result_status(each).stage for each in heats])


def _heats(snapshot: Snapshot, heat: HeatSnapshot, division: str) -> list[HeatSnapshot]:
    return [each for each in snapshot.heats_of(heat.event.id) if may_hold(each, division)]
