"""The shape of the competition file: every table and field, with its bounds."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from tallywire.core.model.outputs import DELAY_MOST_MS
from tallywire.core.model.timetext import parse_clock
from tallywire.wire.standings_schema import CutTable, PointsTableTable, StandingsTable
from tallywire.wire.table_base import FileTable, Id, Text
from tallywire.wire.theme_schema import ThemeTable

LaneNumber = Annotated[str, Field(pattern=r"^[1-9][0-9]?$")]


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


class CompetitionTable(FileTable):
    """[competition]: the event as a whole; how times are shown (they are ranked as measured whatever is shown)."""

    name: Text
    time_decimals: Annotated[int, Field(ge=0, le=3)] = 3
    time_rounding: Literal["down", "up"] = "down"


class DivisionTable(FileTable):
    """[[division]]: those who compete against each other."""

    id: Id
    name: Text


class EntryTable(FileTable):
    """[[entry]]: an athlete, a pair or a team, with the points it brings into the first event of this file.

    `left_after` names the event after which it left the competition.
    """

    id: Id
    name: Text
    division: Id
    short: Annotated[str, Field(max_length=24)] = ""
    home: Annotated[str, Field(max_length=60)] = ""
    points_before: Annotated[int, Field(ge=0, le=10_000_000)] = 0
    left_after: Id | None = None


class StationTable(FileTable):
    """[[event.workout.station]]: one movement of a round with its amount."""

    movement: Annotated[str, Field(min_length=1, max_length=40)]
    amount: Annotated[int, Field(ge=1, le=100_000)]
    unit: Literal["reps", "metres", "calories", "seconds"] = "reps"
    credit: Literal["unit", "block"] = "unit"
    expected_seconds: Annotated[float, Field(gt=0, le=7200, strict=False)] = 30.0
    touch_guard_ms: Annotated[int, Field(ge=0, le=5000)] = 150
    loads: dict[Id, Annotated[str, Field(min_length=1, max_length=40)]] = Field(default_factory=dict)


class MarkTable(FileTable):
    """The end of a station of a round, both counted from 1."""

    round: Annotated[int, Field(ge=1, le=1000)]
    station: Annotated[int, Field(ge=1, le=100)]


class RoundTable(FileTable):
    """[[event.workout.round]]: the stations of one round, where rounds differ."""

    station: list[StationTable] = Field(min_length=1, max_length=100)


class LiftingTable(FileTable):
    """[event.workout.lifting]: bar, collars (each) and discs at hand, in `unit`."""

    unit: Literal["kg", "lb"] = "kg"
    bar: Load = 20
    collar: Annotated[float, Field(ge=0, le=10, strict=False)] = 0
    plates: list[Load] = Field(min_length=1, max_length=30)
    attempts: Annotated[int, Field(ge=1, le=50)] | None = None


class LadderTable(FileTable):
    """[event.workout.ladder]: the window of time for each bar; the bars are the stations."""

    window: ClockText


class IntervalsTable(FileTable):
    """[event.workout.intervals]: how many pieces, how long they and the rests are, and which of them count."""

    pieces: Annotated[int, Field(ge=1, le=100)]
    work: ClockText
    rest: ClockText | None = None
    counts: Literal["sum", "slowest", "best"] = "sum"
    timed: bool = False


class TeamTable(FileTable):
    """[event.workout.team]: how many work on a lane, and how: in turns, together, or as they like."""

    form: Literal["relay", "synchro", "shared"]
    members: Annotated[int, Field(ge=2, le=20)]


class WorkoutTable(FileTable):
    """[event.workout]: what is done and how it is scored.

    The work is `station`s repeated for `rounds`, or a list of `round`s with stations of their own.
    """

    format: Literal["for_time", "for_time_with_penalty", "amrap", "max_load", "ladder", "intervals"]
    rounds: Annotated[int, Field(ge=1, le=200)] = 1
    time_cap: ClockText
    tie_break: MarkTable | None = None
    cap_penalty_seconds: Annotated[float, Field(gt=0, le=600, strict=False)] | None = None
    minimum_reps: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    station: list[StationTable] = Field(default_factory=list, max_length=100)
    round: list[RoundTable] = Field(default_factory=list, max_length=200)
    lifting: LiftingTable | None = None
    ladder: LadderTable | None = None
    intervals: IntervalsTable | None = None
    team: TeamTable | None = None

    def stations_by_round(self) -> list[list[StationTable]]:
        """Give the stations of each round, whichever way they were written."""
        if self.round:
            return [each.station for each in self.round]
        return [self.station] * self.rounds


class PartTable(FileTable):
    """[[event.part]]: one of several scores from one performance, with places and points of its own.

    `measure` is `result` (the workout's own), `time_at` a mark, or `reps_at` a time on the clock.
    """

    id: Id
    name: Text
    measure: Literal["result", "time_at", "reps_at"]
    mark: MarkTable | None = None
    at: ClockText | None = None
    points: Id | None = None


class RecordTable(FileTable):
    """[[event.record]]: a result to measure this one against, for the call sheet; words only, nothing is worked out."""

    result: Text
    who: Text
    when: Text | None = None
    division: Id | None = None


class EventTable(FileTable):
    """[[event]]: one scored test. `points` names a points table; without it [standings] or the first one says."""

    id: Id
    name: Text
    points: Id | None = None
    ties: Literal["share_better", "mean"] = "share_better"
    workout: WorkoutTable
    part: list[PartTable] = Field(default_factory=list, max_length=10)
    record: list[RecordTable] = Field(default_factory=list, max_length=20)


class HeatTable(FileTable):
    """[[heat]]: the group on the floor together. Lanes stand here, or in a start list, or are `seeded_later`."""

    id: Id
    name: Text
    event: Id
    lanes: dict[LaneNumber, Id] = Field(default_factory=dict)
    seeded_later: bool = False


class OutputTable(FileTable):
    """[[output]]: a picture that leaves the house. `timecode` names the rate for times of this output at the desk."""

    id: Id
    name: Text
    size: Literal["1920x1080", "1080x1920"] = "1920x1080"
    delay_seconds: Annotated[float, Field(ge=0, le=DELAY_MOST_MS / 1000, strict=False)] = 0
    hold_seconds: Annotated[float, Field(ge=0, le=600, strict=False)] = 30
    timecode: Literal["24", "25", "30", "50", "60", "29.97", "29.97 drop", "59.94", "59.94 drop"] | None = None


class ItemTable(FileTable):
    """[[rundown.item]]: a view, what it shows, and what the operator calls it."""

    view: Annotated[str, Field(min_length=1, max_length=40)]
    who: Annotated[str, Field(max_length=200)] | None = None
    heat: Id | None = None
    part: Id | None = None
    name: Annotated[str, Field(max_length=60)] = ""

    def params(self) -> dict[str, str]:
        """Give what the view is to show."""
        given = {"who": self.who, "heat": self.heat, "part": self.part}
        return {name: value for name, value in given.items() if value is not None}


class RundownTable(FileTable):
    """[[rundown]]: what is planned for an output, in order."""

    output: Id
    item: list[ItemTable] = Field(min_length=1, max_length=500)


class CompetitionFile(FileTable):
    """A competition: everything known before the first tap."""

    competition: CompetitionTable
    start_lists: list[Annotated[str, Field(max_length=200)]] = Field(default_factory=list, max_length=200)
    division: list[DivisionTable] = Field(min_length=1, max_length=100)
    points: list[PointsTableTable] = Field(min_length=1, max_length=50)
    standings: StandingsTable = Field(default_factory=StandingsTable)
    cut: list[CutTable] = Field(default_factory=list, max_length=100)
    entry: list[EntryTable] = Field(min_length=1, max_length=5000)
    event: list[EventTable] = Field(min_length=1, max_length=100)
    heat: list[HeatTable] = Field(min_length=1, max_length=1000)
    theme: ThemeTable = Field(default_factory=ThemeTable)
    output: list[OutputTable] = Field(default_factory=list, max_length=20)
    rundown: list[RundownTable] = Field(default_factory=list, max_length=20)
