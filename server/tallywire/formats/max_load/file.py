"""Lifts in the competition file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from tallywire.core.errors import Problem
from tallywire.core.model.loads import load_text
from tallywire.formats.format_file import FormatFile
from tallywire.formats.max_load.plates import KNOWN_BARS_MILLI, KNOWN_PLATES_MILLI
from tallywire.formats.max_load.rules import LiftingRules
from tallywire.formats.table_base import FileTable
from tallywire.formats.workout_tables import Load, WorkoutTable


class LiftingTable(FileTable):
    """[event.workout.lifting]: bar, collars (each) and discs at hand, in `unit`."""

    unit: Literal["kg", "lb"] = "kg"
    bar: Load = 20
    collar: Annotated[float, Field(ge=0, le=10, strict=False)] = 0
    plates: list[Load] = Field(min_length=1, max_length=30)
    attempts: Annotated[int, Field(ge=1, le=50)] | None = None


class LiftFile(FormatFile):
    """A lift is one station, and its amount is the number of attempts."""

    field: ClassVar[str | None] = "lifting"
    table: ClassVar[Any] = LiftingTable
    for_teams: ClassVar[bool] = False
    told_on_the_way: ClassVar[bool] = False

    def problems(self, path: str, workout: WorkoutTable, own: LiftingTable) -> Iterator[Problem]:
        """Give every bar and disc that is not manufactured, and an amount that is not the number of attempts."""
        yield from _equipment_problems(f"{path}.lifting", own)
        yield from _attempt_problems(path, workout, own)

    def most_reps(self, _workout: WorkoutTable, own: LiftingTable) -> int | None:
        """Give the attempts, where they are numbered."""
        return own.attempts

    def rules(self, own: LiftingTable) -> LiftingRules:
        """Give the rules in thousandths of the unit, discs heaviest first."""
        return LiftingRules(
            unit=own.unit,
            bar_milli=_milli(own.bar),
            collar_milli=_milli(own.collar),
            plates_milli=tuple(sorted({_milli(plate) for plate in own.plates}, reverse=True)),
            attempts=own.attempts,
        )


def _equipment_problems(path: str, own: LiftingTable) -> Iterator[Problem]:
    plates, bars = KNOWN_PLATES_MILLI[own.unit], KNOWN_BARS_MILLI[own.unit]
    for index, plate in enumerate(own.plates, start=1):
        if _milli(plate) not in plates:
            yield Problem(f"{path}.plates[{index}]", load_text(_milli(plate), own.unit), _listed(plates, own.unit))
    if _milli(own.bar) not in bars:
        yield Problem(f"{path}.bar", load_text(_milli(own.bar), own.unit), _listed(bars, own.unit))


def _attempt_problems(path: str, workout: WorkoutTable, own: LiftingTable) -> Iterator[Problem]:
    stations = workout.stations()
    if len(stations) > 1:
        yield Problem(f"{path}.station", f"{len(stations)} stations", "one: the lift")
    for station in stations[:1]:
        if own.attempts is not None and station.amount != own.attempts:
            expected = f"{own.attempts}: as many as the attempts"
            yield Problem(f"{path}.station[1].amount", str(station.amount), expected)


def _milli(load: float) -> int:
    return round(load * 1000)


def _listed(known: tuple[int, ...], unit: str) -> str:
    return f"one of {', '.join(load_text(each, unit) for each in known)}"
