"""The shape of a workout in the competition file, except for the fields of single formats."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from tallywire.core.model.timetext import parse_clock
from tallywire.formats.table_base import FileTable, Id


def _clock(value: Any) -> int:
    if not isinstance(value, str):
        raise ValueError('a time in quotes such as "15:00"')
    try:
        return parse_clock(value)
    except ValueError as exc:
        raise ValueError(str(exc).partition("expected ")[2]) from exc


ClockText = Annotated[
    int,
    BeforeValidator(_clock),
    Field(gt=0, le=24 * 3600 * 1000),
    WithJsonSchema({"type": "string", "pattern": r"^(\d{1,3}:)?\d{1,3}:[0-5]\d(\.\d{1,3})?$", "examples": ["15:00"]}),
]


Load = Annotated[float, Field(gt=0, le=2000, strict=False)]


class StationTable(FileTable):
    """[[event.workout.station]]: one movement of a round with its amount."""

    movement: Annotated[str, Field(min_length=1, max_length=40)]
    amount: Annotated[int, Field(ge=1, le=100_000)]
    unit: Literal["reps", "metres", "calories", "seconds"] = "reps"
    credit: Literal["unit", "block"] = "unit"
    expected_seconds: Annotated[float, Field(ge=0.1, le=7200, strict=False)] = 30.0
    touch_guard_ms: Annotated[int, Field(ge=0, le=5000)] = 150
    loads: dict[Id, Annotated[str, Field(min_length=1, max_length=40)]] = Field(default_factory=dict)


class MarkTable(FileTable):
    """The end of a station of a round, both counted from 1."""

    round: Annotated[int, Field(ge=1, le=1000)]
    station: Annotated[int, Field(ge=1, le=100)]


class RoundTable(FileTable):
    """[[event.workout.round]]: the stations of one round, where rounds differ."""

    station: list[StationTable] = Field(min_length=1, max_length=100)


class TeamTable(FileTable):
    """[event.workout.team]: how many work on a lane, and how: in turns, together, or as they like."""

    form: Literal["relay", "synchro", "shared"]
    members: Annotated[int, Field(ge=2, le=20)]


class WorkoutTable(FileTable):
    """[event.workout]: what is done and how it is scored.

    The work is `station`s repeated for `rounds`, or a list of `round`s with stations of their own.
    """

    # The names that `format` may have and the formats' own fields are added by `wire.competition_schema`.

    format: str
    rounds: Annotated[int, Field(ge=1, le=200)] = 1
    time_cap: ClockText
    tie_break: MarkTable | None = None
    minimum_reps: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    station: list[StationTable] = Field(default_factory=list, max_length=100)
    round: list[RoundTable] = Field(default_factory=list, max_length=200)
    team: TeamTable | None = None

    def stations(self) -> list[StationTable]:
        """Give the stations of all rounds, one after the other."""
        return [station for each in self.stations_by_round() for station in each]

    def scored_reps(self) -> int:
        """Give what the work is worth once through."""
        return sum(1 if station.credit == "block" else station.amount for station in self.stations())

    def stations_by_round(self) -> list[list[StationTable]]:
        """Give the stations of each round, whichever way they were written."""
        if self.round:
            return [each.station for each in self.round]
        return [self.station] * self.rounds
