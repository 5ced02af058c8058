"""The day: which heats there are, when each is to start and did start, in the order of the file."""

from __future__ import annotations

from tallywire.core.fold.floor import Floors
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition
from tallywire.core.views.heat import Frame

AHEAD = 5
"""How many heats that have not started are told to those who look ahead."""


def day_rows(snapshot: Snapshot) -> list[Frame]:
    """Give every heat by event and name, how far it is, and its times (Unix milliseconds) where they are known."""
    return [_row(snapshot.competition, heat) for heat in snapshot.heats.values()]


def floors_data(competition: Competition, on: Floors) -> Frame:
    """Give the floors that have names, by id, each with the heat on it; nothing where there is one floor without."""
    floors = competition.floors.values()
    return {"floors": {each.id: {"name": each.name, "heat": on.heats[each.id]} for each in floors}} if floors else {}


def day_ahead(snapshot: Snapshot, floor: str) -> list[Frame]:
    """Give the heat that started last on a floor, which says how late it runs, and those that are its next to start."""
    heats = snapshot.on_floor(floor)
    started = [heat for heat in heats if heat.started is not None]
    last = sorted(started, key=lambda heat: heat.started.unix_ms if heat.started else 0)[-1:]
    ahead = [heat for heat in heats if heat.started is None and heat.heat.lanes][:AHEAD]
    return [_row(snapshot.competition, heat) for heat in [*last, *ahead]]


def _row(competition: Competition, now: HeatSnapshot) -> Frame:
    heat, started = now.heat, now.started
    times = {"start_unix_ms": heat.start_unix_ms, "started_unix_ms": None if started is None else started.unix_ms}
    return {
        "id": heat.id,
        "name": heat.name,
        "event": heat.event,
        "title": competition.title_of(heat),
        "status": "over" if now.over else "running" if started else "waiting",
        **({"floor": heat.floor} if heat.floor else {}),
        **{name: value for name, value in times.items() if value is not None},
    }
