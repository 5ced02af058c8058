"""What a shape cannot say: names that must exist, lanes that must be free, rules that must be possible."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from tallywire.core.errors import Problem
from tallywire.wire.competition_schema import CompetitionFile, EventTable
from tallywire.wire.problems import shown
from tallywire.wire.start_list import LaneRow


def cross_checks(table: CompetitionFile, rows: list[LaneRow]) -> list[Problem]:
    """Give everything that is wrong between the tables of a file and its start lists."""
    return [
        *_unique("division", [each.id for each in table.division]),
        *_unique("points", [each.id for each in table.points]),
        *_unique("entry", [each.id for each in table.entry]),
        *_unique("event", [each.id for each in table.event]),
        *_unique("heat", [each.id for each in table.heat]),
        *_known_names(table),
        *_workouts(table),
        *_lanes(table, rows),
    ]


def _unique(table: str, ids: list[str]) -> Iterator[Problem]:
    counts = Counter(ids)
    for index, each in enumerate(ids, start=1):
        if counts[each] > 1 and ids.index(each) != index - 1:
            yield Problem(
                f"{table}[{index}].id", shown(each), f"an id of its own: {table}[{ids.index(each) + 1}] has it"
            )


def _among(path: str, name: str, known: Iterable[str], what: str) -> Iterator[Problem]:
    names = list(known)
    if name not in names:
        listed = ", ".join(names[:8]) + (" …" if len(names) > 8 else "")
        yield Problem(path, shown(name), f"{what}: {listed}")


def _known_names(table: CompetitionFile) -> Iterator[Problem]:
    divisions = [each.id for each in table.division]
    for index, entry in enumerate(table.entry, start=1):
        yield from _among(f"entry[{index}].division", entry.division, divisions, "a division of this file")
    for index, event in enumerate(table.event, start=1):
        if event.points is not None:
            path = f"event[{index}].points"
            yield from _among(path, event.points, [each.id for each in table.points], "a points table of this file")
        for number, station in enumerate(event.workout.station, start=1):
            for division in station.loads:
                path = f"event[{index}].workout.station[{number}].loads.{division}"
                yield from _among(path, division, divisions, "a division of this file")
    for index, heat in enumerate(table.heat, start=1):
        events = [each.id for each in table.event]
        yield from _among(f"heat[{index}].event", heat.event, events, "an event of this file")


def _workouts(table: CompetitionFile) -> Iterator[Problem]:
    for index, event in enumerate(table.event, start=1):
        mark, workout = event.workout.tie_break, event.workout
        if mark is None:
            continue
        path = f"event[{index}].workout.tie_break"
        if mark.station > len(workout.station):
            yield Problem(f"{path}.station", str(mark.station), f"a station from 1 to {len(workout.station)}")
        if workout.format == "for_time" and mark.round > workout.rounds:
            yield Problem(f"{path}.round", str(mark.round), f"a round from 1 to {workout.rounds}")


def _lanes(table: CompetitionFile, rows: list[LaneRow]) -> Iterator[Problem]:
    heats = {heat.id: heat for heat in table.heat}
    taken: dict[tuple[str, int], str] = {}
    racing: dict[tuple[str, str], str] = {}
    for heat_id, lane, entry, where in _all_lanes(table, rows):
        if heat_id not in heats:
            yield from _among(where, heat_id, heats, "a heat of this file")
            continue
        yield from _among(f"{where}, entry", entry, [each.id for each in table.entry], "an entry of this file")
        other = taken.setdefault((heat_id, lane), where)
        if other != where:
            yield Problem(where, f"lane {lane} of {heat_id} a second time", f"one entry on a lane: {other} has it")
        other = racing.setdefault((heats[heat_id].event, entry), where)
        if other != where:
            yield Problem(where, f"{shown(entry)} a second time", f"one heat of the event for an entry: {other} has it")
    yield from _fields(table, racing)
    for index, heat in enumerate(table.heat, start=1):
        if not any(heat_id == heat.id for heat_id, _ in taken):
            yield Problem(f"heat[{index}].lanes", "no lanes", "at least one lane, here or in a start list")


def _all_lanes(table: CompetitionFile, rows: list[LaneRow]) -> Iterator[tuple[str, int, str, str]]:
    for index, heat in enumerate(table.heat, start=1):
        for lane, entry in heat.lanes.items():
            yield heat.id, int(lane), entry, f"heat[{index}].lanes.{lane}"
    for row in rows:
        yield row.heat, row.lane, row.entry, row.where


def _fields(table: CompetitionFile, racing: dict[tuple[str, str], str]) -> Iterator[Problem]:
    """A points table must reach to the last place of the largest field in the event."""
    division_of = {entry.id: entry.division for entry in table.entry}
    for index, event in enumerate(table.event, start=1):
        field = Counter(division_of[entry] for of, entry in racing if of == event.id and entry in division_of)
        largest = max(field.values(), default=0)
        places = _points_places(table, event)
        if places and len(places) < largest:
            yield Problem(
                f"event[{index}].points",
                f"a table of {len(places)} places",
                f"at least {largest}: the field is that large",
            )


def _points_places(table: CompetitionFile, event: EventTable) -> list[int]:
    name = event.points or table.points[0].id
    return next((each.places for each in table.points if each.id == name), [])
