"""The shape of the competition file: every table and field, with its bounds."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, create_model

from tallywire.core.formats.format import Format
from tallywire.core.formats.registry import formats
from tallywire.core.model.outputs import DELAY_MOST_MS
from tallywire.formats.format_file import FormatFile
from tallywire.formats.table_base import FLOOR_SHAPE, LANE_SHAPE, FileTable, Id, Line, Text
from tallywire.formats.workout_tables import ClockText, MarkTable, WorkoutTable
from tallywire.wire.briefing_file import BriefingTable
from tallywire.wire.catalogue import Language
from tallywire.wire.standings_schema import CutTable, PointsTableTable, StandingsTable
from tallywire.wire.theme_schema import ThemeTable

SHORT_MOST = 24
"""Letters of a short form: what the narrowest column of a picture has room for."""
FLOORS_MOST = 6
"""A graphics desk watches the heat of every floor, and one client may watch nine views."""
FloorId = Annotated[str, Field(pattern=FLOOR_SHAPE)]
"""It stands in the names of senders, which have 64 letters, and behind `floor:` in the names of heats."""
LaneNumber = Annotated[str, Field(pattern=LANE_SHAPE)]


class CompetitionTable(FileTable):
    """[competition]: the event as a whole; how times are shown (they are ranked as measured whatever is shown).

    `language` is that of pages, pictures and cues; with `spectators_choose` a phone shows the one of its browser.
    """

    name: Text
    time_decimals: Annotated[int, Field(ge=0, le=3)] = 3
    time_rounding: Literal["down", "up"] = "down"
    language: Language = "en"
    spectators_choose: bool = True


class DivisionTable(FileTable):
    """[[division]]: those who compete against each other."""

    id: Id
    name: Text


class EntryTable(BriefingTable):
    """[[entry]]: an athlete, a pair or a team, with the points it brings into the first event of this file.

    `left_after` names the event after which it left the competition.
    """

    id: Id
    name: Text
    division: Id
    short: Annotated[Line, Field(max_length=SHORT_MOST)] = ""
    home: Annotated[Line, Field(max_length=60)] = ""
    points_before: Annotated[float, Field(ge=0, le=10_000_000, strict=False)] = 0
    left_after: Id | None = None


class VacantTable(FileTable):
    """One of `vacant`: a place of a division that nobody is given."""

    division: Id
    place: Annotated[int, Field(ge=1, le=5000)]


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
    count_back: bool | None = None
    vacant: list[VacantTable] = Field(default_factory=list, max_length=100)


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
    count_back: bool = True
    vacant: list[VacantTable] = Field(default_factory=list, max_length=100)
    workout: WorkoutTable
    part: list[PartTable] = Field(default_factory=list, max_length=10)
    record: list[RecordTable] = Field(default_factory=list, max_length=20)


def vacancies(index: int, event: EventTable) -> Iterator[tuple[str, list[VacantTable]]]:
    """Give the vacant places of an event and of its parts, with where they stand in the file."""
    yield f"event[{index}].vacant", event.vacant
    for number, part in enumerate(event.part, start=1):
        yield f"event[{index}].part[{number}].vacant", part.vacant


class FloorTable(FileTable):
    """[[floor]]: one of several places where heats run at the same time. Without any, there is one floor."""

    id: FloorId
    name: Text


class HeatTable(FileTable):
    """[[heat]]: the group on the floor together. `floor` names the floor, where the file has floors.

    `start` is a date-time with its offset from UTC. Lanes are here or in a start list, unless it is `seeded_later`.
    """

    id: Id
    name: Text
    event: Id
    lanes: dict[LaneNumber, Id] = Field(default_factory=dict)
    start: AwareDatetime | None = None
    floor: FloorId | None = None
    seeded_later: bool = False


class OutputTable(FileTable):
    """[[output]]: a picture that leaves the house. `timecode` names the rate for times of this output at the desk.

    `floor` names the floor whose heat it shows, where the file has floors. Without a `language` it has the
    competition's.
    """

    id: Id
    name: Text
    size: Literal["1920x1080", "1080x1920"] = "1920x1080"
    delay_seconds: Annotated[float, Field(ge=0, le=DELAY_MOST_MS / 1000, strict=False)] = 0
    hold_seconds: Annotated[float, Field(ge=0, le=600, strict=False)] = 30
    timecode: Literal["24", "25", "30", "50", "60", "29.97", "29.97 drop", "59.94", "59.94 drop"] | None = None
    floor: FloorId | None = None
    language: Language | None = None


class ItemTable(FileTable):
    """[[rundown.item]]: a view, what it shows, and what the operator calls it."""

    view: Annotated[str, Field(min_length=1, max_length=40)]
    who: Annotated[str, Field(max_length=200)] | None = None
    heat: Id | None = None
    part: Id | None = None
    name: Annotated[Line, Field(max_length=60)] = ""

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
    floor: list[FloorTable] = Field(default_factory=list, max_length=FLOORS_MOST)
    heat: list[HeatTable] = Field(min_length=1, max_length=1000)
    theme: ThemeTable = Field(default_factory=ThemeTable)
    output: list[OutputTable] = Field(default_factory=list, max_length=20)
    rundown: list[RundownTable] = Field(default_factory=list, max_length=20)


def competition_model() -> type[CompetitionFile]:
    """Give the shape of the file with the formats there are: their names, and the fields of their own."""
    return _model(formats())


@lru_cache(maxsize=4)
def _model(known: tuple[Format, ...]) -> type[CompetitionFile]:
    files = [each.facet(FormatFile) for each in known]
    own: dict[str, Any] = {each.field: (each.table | None, None) for each in files if each.field is not None}
    names: Any = Literal[tuple(each.name for each in known)]
    workout = create_model(
        "WorkoutTable",
        __base__=WorkoutTable,
        __doc__=WorkoutTable.__doc__,
        format=(names, ...),
        **own,
    )
    event = create_model("EventTable", __base__=EventTable, __doc__=EventTable.__doc__, workout=(workout, ...))
    events = (list[event], Field(min_length=1, max_length=100))
    return create_model("CompetitionFile", __base__=CompetitionFile, __doc__=CompetitionFile.__doc__, event=events)
