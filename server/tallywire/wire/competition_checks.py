"""Checks that a schema cannot express: names that must exist, lanes that must be free, rules that must be possible."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from tallywire.core.errors import Problem
from tallywire.formats.workout_tables import StationTable
from tallywire.wire.briefing_file import briefing_problems
from tallywire.wire.competition_schema import CompetitionFile, EventTable, PartTable, vacancies
from tallywire.wire.floor_checks import floor_problems
from tallywire.wire.problems import shown
from tallywire.wire.rundown_checks import rundown_problems
from tallywire.wire.standings_checks import standings_problems
from tallywire.wire.start_list import LaneRow
from tallywire.wire.theme_checks import theme_problems
from tallywire.wire.workout_file import file_of, mark_problems, workout_problems


def cross_checks(table: CompetitionFile, rows: list[LaneRow]) -> list[Problem]:
    """Give everything in which the tables of a file, and its start lists, contradict each other."""
    return [
        *_unique("division", [each.id for each in table.division]),
        *_unique("points", [each.id for each in table.points]),
        *_unique("entry", [each.id for each in table.entry]),
        *_unique("event", [each.id for each in table.event]),
        *_unique("heat", [each.id for each in table.heat]),
        *_known_names(table),
        *_workouts(table),
        *_lanes(table, rows),
        *briefing_problems({each.id: each for each in table.entry}, rows),
        *floor_problems(table),
        *_unique("output", [each.id for each in table.output]),
        *rundown_problems(table, rows),
        *theme_problems(table.theme),
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
    divisions, tables = [each.id for each in table.division], [each.id for each in table.points]
    for path, division in _named_divisions(table):
        yield from _among(path, division, divisions, "a division of this file")
    for path, name in _named_tables(table):
        yield from _among(path, name, tables, "a points table of this file")
    for index, heat in enumerate(table.heat, start=1):
        events = [each.id for each in table.event]
        yield from _among(f"heat[{index}].event", heat.event, events, "an event of this file")


def _named_divisions(table: CompetitionFile) -> Iterator[tuple[str, str]]:
    """Every place in the file that names a division, with the name: entries, records, vacant places, loads."""
    for index, entry in enumerate(table.entry, start=1):
        yield f"entry[{index}].division", entry.division
    for index, event in enumerate(table.event, start=1):
        for number, record in enumerate(event.record, start=1):
            if record.division is not None:
                yield f"event[{index}].record[{number}].division", record.division
        for path, vacant in vacancies(index, event):
            yield from ((f"{path}[{number}].division", each.division) for number, each in enumerate(vacant, start=1))
        for path, station in _stations(index, event):
            yield from ((f"{path}.loads.{division}", division) for division in station.loads)


def _named_tables(table: CompetitionFile) -> Iterator[tuple[str, str]]:
    """Every event that names a points table, with the name."""
    for index, event in enumerate(table.event, start=1):
        if event.points is not None:
            yield f"event[{index}].points", event.points


def _stations(index: int, event: EventTable) -> Iterator[tuple[str, StationTable]]:
    for number, station in enumerate(event.workout.station, start=1):
        yield f"event[{index}].workout.station[{number}]", station
    for turn, each in enumerate(event.workout.round, start=1):
        for number, station in enumerate(each.station, start=1):
            yield f"event[{index}].workout.round[{turn}].station[{number}]", station


def _workouts(table: CompetitionFile) -> Iterator[Problem]:
    for index, event in enumerate(table.event, start=1):
        yield from workout_problems(f"event[{index}].workout", event.workout)
        yield from _unique(f"event[{index}].part", [part.id for part in event.part])
        for number, part in enumerate(event.part, start=1):
            yield from _part(f"event[{index}].part[{number}]", part, event, table)


def _part(path: str, part: PartTable, event: EventTable, table: CompetitionFile) -> Iterator[Problem]:
    yield from _part_fields(path, part)
    if part.measure in _PART_FIELDS and not file_of(event.workout.format).told_on_the_way:
        found = f"{part.measure} of {event.workout.format}"
        yield Problem(f"{path}.measure", found, "result: this is not one count to the end")
    if part.at is not None and part.at > event.workout.time_cap:
        yield Problem(f"{path}.at", f"{part.at} ms", f"at most the time cap, {event.workout.time_cap} ms")
    if part.mark is not None:
        yield from mark_problems(f"{path}.mark", part.mark, event.workout)
    if part.points is not None:
        yield from _among(
            f"{path}.points", part.points, [each.id for each in table.points], "a points table of this file"
        )


_PART_FIELDS = {"time_at": "mark", "reps_at": "at"}
"""The field that a measure needs; every other measure has neither."""


def _part_fields(path: str, part: PartTable) -> Iterator[Problem]:
    for field in ("mark", "at"):
        wanted, present = _PART_FIELDS.get(part.measure) == field, getattr(part, field) is not None
        if wanted != present:
            expected = f"a value: {part.measure} needs it" if wanted else f"nothing: {part.measure} has none"
            yield Problem(f"{path}.{field}", "a value" if present else "nothing", expected)


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
    for index, heat in enumerate(table.heat, start=1):
        if not (heat.seeded_later or any(heat_id == heat.id for heat_id, _ in taken)):
            yield Problem(f"heat[{index}].lanes", "no lanes", "at least one lane, here or in a start list")
    yield from standings_problems(table, racing)


def _all_lanes(table: CompetitionFile, rows: list[LaneRow]) -> Iterator[tuple[str, int, str, str]]:
    for index, heat in enumerate(table.heat, start=1):
        for lane, entry in heat.lanes.items():
            yield heat.id, int(lane), entry, f"heat[{index}].lanes.{lane}"
    for row in rows:
        yield row.heat, row.lane, row.entry, row.where
