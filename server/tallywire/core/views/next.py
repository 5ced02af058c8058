"""The next view: which heat comes after this one, and the entries on its lanes."""

from __future__ import annotations

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Entry
from tallywire.core.show.surroundings import next_heat
from tallywire.core.views.day import day_ahead
from tallywire.core.views.heat import Frame, heat_frame


def next_frame(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    """Give the heat view without its lanes, and the `next` heat with those on its lanes; missing at the end.

    `day` is what the timetable has next.

    A lane on medical hold before its heat is not in it.
    """
    found = next_heat(snapshot, heat)
    mine = {"view": "next", "leader": {}, "order": [], "lanes": {}, "day": day_ahead(snapshot, heat.heat.floor)}
    this = heat_frame(snapshot.competition, heat.state) | mine
    return this if found is None else this | {"next": _next(snapshot, found)}


def _next(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    entry_on = snapshot.competition.entry_on
    lanes = {lane: entry_on(heat.heat, lane) for lane in sorted(heat.heat.lanes) if not heat.conduct(lane).held}
    divisions = {entry.division for entry in lanes.values()}
    return {
        "heat": {"id": heat.heat.id, "name": heat.heat.name},
        "event": {"id": heat.event.id, "name": heat.event.name},
        "divisions": {
            each.id: {"name": each.name} for each in snapshot.competition.divisions.values() if each.id in divisions
        },
        "lanes": {str(lane): _lane(lane, entry) for lane, entry in lanes.items()},
    }


def _lane(lane: int, entry: Entry) -> Frame:
    return {
        "lane": lane,
        "entry": entry.id,
        "name": entry.name,
        "short": entry.short,
        "home": entry.home,
        "division": entry.division,
    }
