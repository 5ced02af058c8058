"""Checks of floors and of the timetable: on which floor a heat or an output is, and in which order heats start."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from tallywire.core.errors import Problem
from tallywire.core.fold.floor import FLOOR
from tallywire.wire.competition_schema import CompetitionFile, HeatTable, OutputTable
from tallywire.wire.problems import shown


def floor_problems(table: CompetitionFile) -> Iterator[Problem]:
    """Give what is wrong with floors, with what names them, and with the order of heats on each."""
    floors = [each.id for each in table.floor]
    yield from _own_names(table, "id")
    yield from _own_names(table, "name")
    yield from _named("heat", table.heat, floors)
    yield from _named("output", table.output, floors)
    used = {heat.floor for heat in table.heat}
    for index, floor in enumerate(floors, start=1):
        if floor not in used:
            yield Problem(f"floor[{index}]", shown(floor), "a floor that at least one heat names")
    for index, heat in enumerate(table.heat, start=1):
        kind, colon, _ = heat.id.partition(":")
        if kind == FLOOR and (floors or not colon):
            yield Problem(f"heat[{index}].id", shown(heat.id), "another id: this one means the heat on the floor")
    for name in dict.fromkeys(heat.floor for heat in table.heat):
        yield from _starts(table, name)


def _own_names(table: CompetitionFile, field: str) -> Iterator[Problem]:
    """Floors are told apart by their names as well: those are what the crew reads."""
    names = [getattr(each, field) for each in table.floor]
    counts = Counter(names)
    for index, name in enumerate(names, start=1):
        first = names.index(name) + 1
        if counts[name] > 1 and first != index:
            yield Problem(f"floor[{index}].{field}", shown(name), f"one of its own: floor[{first}] has it")


def _named(kind: str, rows: Sequence[HeatTable | OutputTable], floors: Sequence[str]) -> Iterator[Problem]:
    for index, each in enumerate(rows, start=1):
        if each.floor is None and floors:
            yield Problem(f"{kind}[{index}].floor", "nothing", f"a floor of this file: {', '.join(floors)}")
        elif each.floor is not None and each.floor not in floors:
            listed = ", ".join(floors) or "this file names none"
            yield Problem(f"{kind}[{index}].floor", shown(each.floor), f"a floor of this file: {listed}")


def _starts(table: CompetitionFile, floor: str | None) -> Iterator[Problem]:
    """The heats of a floor are written in the order in which they start: what is next follows that order."""
    rows = enumerate(table.heat, start=1)
    timed = [(index, heat.start) for index, heat in rows if heat.floor == floor and heat.start is not None]
    for (before, earlier), (index, start) in pairwise(timed):
        if start < earlier:
            expected = f"not before heat[{before}], {earlier.isoformat()}: heats stand in the order of the day"
            yield Problem(f"heat[{index}].start", start.isoformat(), expected)
