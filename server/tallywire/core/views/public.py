"""The public picture: what the public feed shows of the heat on the floor, small enough for a phone on a slow link."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition
from tallywire.core.standings.change import Changes, changes_of
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.event import event_frame
from tallywire.core.views.heat import Frame, heat_frame
from tallywire.core.views.standings import overall_row

ROWS_MOST = 200
"""So many rows a ranking has at most: the first, and those on the floor."""
STANDINGS_MOST = 50
"""The same of the overall standing."""
_CREWS_OWN = frozenset({"splits", "remarks", "no_reps", "next_mark", "movement", "unit", "credit", "withdrawn_ms"})
"""What a lane's data say to the crew, and no phone shows."""
_OF_A_LEG = ("round", "station", "movement", "scored_after", "expected_ms")
_OF_A_STANDING = ("entry", "name", "short", "place", "shared", "total")
_OF_A_ROW = ("entry", "name", "short", "place", "shared", "result", "status", "points", "lane")


def public_frame(snapshot: Snapshot, heat: HeatSnapshot, *, held: Collection[str]) -> Frame:
    """Give the heat with its event's ranking by division; nobody of `held` (entries under a medical hold) is in it.

    The fields are those of the heat view and the event view, fewer of them, and none that depends on the moment at
    which it is made: as long as no fact comes and no cap passes, the picture is the same.
    """
    whole = heat_frame(snapshot.competition, heat.state, in_event(snapshot, heat))
    event = event_frame(snapshot, heat)
    lanes = {name: _lane(lane) for name, lane in whole["lanes"].items() if lane["entry"] not in held}
    return whole | {
        "view": "public",
        "event": whole["event"] | {"legs": [_only(leg, _OF_A_LEG) for leg in whole["event"]["legs"]]},
        "result": event["result"],
        "leader": whole["leader"] if str(whole["leader"].get("lane")) in lanes else {},
        "order": [lane for lane in whole["order"] if str(lane) in lanes],
        "lanes": lanes,
        "ranking": {division: _ranking(event["ranking"][division], held) for division in heat.divisions},
    }


def public_standings(snapshot: Snapshot, heat: HeatSnapshot, *, held: Collection[str]) -> Frame:
    """Give the overall standing of the heat's divisions, with its event as it stands, and each place before that event.

    It takes ten times as long as the rest, so it belongs to a segment and not to each list.
    """
    on_floor = {lane.entry.id for lane in heat.state.lanes.values()}
    return {
        division: _standing(snapshot.competition, changes, on_floor, held)
        for division, changes in changes_of(snapshot, heat).items()
    }


def _standing(competition: Competition, changes: Changes, on_floor: Collection[str], held: Collection[str]) -> Frame:
    shown = [change for change in changes.rows if change.now.entry not in held]
    kept = [each for number, each in enumerate(shown) if number < STANDINGS_MOST or each.now.entry in on_floor]
    rows = {each.now.entry: _only(overall_row(competition, each), _OF_A_STANDING) for each in kept}
    before = {each.now.entry: {"before": {"place": each.before.place}} for each in kept if each.before is not None}
    return {"order": [*rows], "rows": {entry: row | before.get(entry, {}) for entry, row in rows.items()}}


def _lane(lane: Frame) -> Frame:
    return {name: value for name, value in lane.items() if name not in _CREWS_OWN}


def _ranking(ranking: Frame, held: Collection[str]) -> Frame:
    shown = [entry for entry in ranking["order"] if entry not in held]
    rows = {entry: ranking["rows"][entry] for entry in shown}
    kept = [entry for number, entry in enumerate(shown) if number < ROWS_MOST or "lane" in rows[entry]]
    counts = _only(ranking, ("part", "heats", "raced", "over"))
    return counts | {"order": kept, "rows": {entry: _only(rows[entry], _OF_A_ROW) for entry in kept}}


def _only(data: Frame, names: Collection[str]) -> dict[str, Any]:
    return {name: data[name] for name in names if name in data}
