"""The results view: every scored part of a heat's event by division, with all that a file of results has."""

from __future__ import annotations

from tallywire.core.fold.result_status import weakest
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.ranking.points import plain
from tallywire.core.reports.results import Choice, ResultRow, ResultTable, result_tables
from tallywire.core.views.heat import Frame, heat_frame


def results_frame(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    """Give the heat view without its lanes, with the `ranking` of each scored part of its event by division.

    Tables are named as in the event view, but every division of the event has one once it has begun. Who is under a
    medical hold is in none; places are not closed up.
    """
    tables = result_tables(snapshot, Choice(event=heat.event.id))
    several = bool(heat.event.parts)
    shown = {f"{each.part.id}/{each.division.id}" if several else each.division.id: each for each in tables}
    return heat_frame(snapshot.competition, heat.state) | {
        "view": "results",
        "leader": {},
        "order": [],
        "lanes": {},
        "divisions": {each.division.id: {"name": each.division.name} for each in tables},
        "result": {"stage": weakest([each.stage for each in tables]).value},
        "ranking": {name: _table(snapshot, table, several=several) for name, table in shown.items()},
    }


def _table(snapshot: Snapshot, table: ResultTable, *, several: bool) -> Frame:
    rows = {row.entry: row for row in table.rows if not snapshot.heats[row.heat].conduct(row.lane).held}
    return ({"part": table.part.name} if several else {}) | {
        "heats": table.heats,
        "raced": table.raced,
        "stage": table.stage.value,
        "order": list(rows),
        "rows": {entry: _row(snapshot, row) for entry, row in rows.items()},
    }


def _row(snapshot: Snapshot, row: ResultRow) -> Frame:
    entry = snapshot.competition.entries[row.entry]
    data: Frame = {
        "entry": row.entry,
        "name": row.name,
        "short": entry.short,
        "home": entry.home,
        "heat": snapshot.heats[row.heat].heat.name,
        "lane": row.lane,
        "status": row.status,
        "place": row.place,
        "shared": row.shared,
        "heat_place": row.heat_place,
        "result": row.result,
        "scored_reps": row.scored_reps,
        "no_reps": row.no_reps,
        "points": plain(row.points),
    }
    return data if row.result_ms is None else data | {"result_ms": row.result_ms}
