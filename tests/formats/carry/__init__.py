"""A format of the tests: carry a load as far as you can in the time there is. The program knows nothing of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import Field

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.format_cues import FormatCues
from tallywire.core.cues.format_words import FormatWords
from tallywire.core.cues.observation import Observation
from tallywire.core.cues.wording import COUNT, NAME, TIME
from tallywire.core.errors import Problem
from tallywire.core.fold.heat import LaneState
from tallywire.core.forecast.format_forecast import CountedForecast
from tallywire.core.formats.base import NEVER_MS, Limits, Outcome, Status, Tally, open_status
from tallywire.core.formats.counting import passed_ms
from tallywire.core.formats.format import Counting, Format
from tallywire.core.formats.own_rules import own_rules
from tallywire.core.model.workout import Plan, Workout
from tallywire.core.reports.format_sheet import FormatSheet
from tallywire.core.reports.say import Saying
from tallywire.core.views.format_views import FormatViews, Frame
from tallywire.formats.format_file import FormatFile
from tallywire.formats.table_base import FileTable
from tallywire.formats.workout_tables import WorkoutTable

LAP_FIRST = Kind("lap_first", weight=42, ttl_ms=12_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class CarryRules:
    """How long the course is."""

    lap_metres: int


def lap_metres(workout: Workout) -> int:
    """The length of the course."""
    return own_rules(workout, CarryRules).lap_metres


class CarryCounting(Counting):
    """Metres count; the furthest wins."""

    def plan(self, workout: Workout) -> Plan:
        """There is no end of the way."""
        return Plan(workout, laps=None)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """By metres."""
        metres = max(0, plan.scored(tally.done) - limits.penalty_reps)
        status = open_status(limits, Status.TIMED)
        return Outcome(status=status, key=(1, -metres), result=f"{metres} m", score=metres, scored_reps=metres)


class CarryTable(FileTable):
    """[event.workout.carry]: the course."""

    lap_metres: Annotated[int, Field(ge=1, le=1000)]


class CarryFile(FormatFile):
    """The course is a part of the workout."""

    field: ClassVar[str | None] = "carry"
    table: ClassVar[Any] = CarryTable
    endless: ClassVar[bool] = True

    def problems(self, path: str, workout: WorkoutTable, own: CarryTable) -> Iterator[Problem]:
        """The way of one round has to be whole laps."""
        metres = workout.scored_reps()
        if metres % own.lap_metres:
            yield Problem(f"{path}.carry.lap_metres", str(own.lap_metres), f"a divisor of {metres}: whole laps")

    def rules(self, own: CarryTable) -> CarryRules:
        """The course."""
        return CarryRules(lap_metres=own.lap_metres)


class CarrySheet(FormatSheet):
    """The judge writes metres."""

    def to_write(self, _workout: Workout, _say: Saying) -> list[str]:
        """The distance."""
        return ["metres carried"]


class CarryViews(FormatViews):
    """Pages show laps."""

    def rules(self, workout: Workout) -> Frame:
        """The course."""
        return {"carry": {"lap_metres": lap_metres(workout)}}

    def work(self, tally: Tally, workout: Workout) -> Frame:
        """Whole laps."""
        return {"laps": tally.done // lap_metres(workout)}


class CarryCues(FormatCues):
    """The first lane through each lap is told, as well as what is told of every count."""

    kinds: ClassVar[tuple[Kind, ...]] = (LAP_FIRST,)

    def milestones(self, observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
        """What any count has, and the first through the newest lap."""
        yield from super().milestones(observation, rules, lanes)
        course = lap_metres(observation.state.event.workout)
        laps = max(lane.tally.done for lane in lanes) // course
        times = sorted((passed_ms(lane.tally.trail, laps * course), lane.lane) for lane in lanes)
        if laps and times[0][0] != NEVER_MS:
            lane = observation.state.lanes[times[0][1]]
            yield observation.cue(
                LAP_FIRST,
                "lap_first",
                str(laps),
                (lane,),
                at_ms=times[0][0],
                name=lane.entry.short,
                laps=laps,
                time_ms=times[0][0],
            )


WORDS = FormatWords(lines={"lap_first": {"name": NAME, "laps": COUNT, "time_ms": TIME}}, units=("laps",))
FORMAT = Format(
    "carry",
    CarryCounting(),
    (CarryCues(), CountedForecast(), CarryFile(), CarrySheet(), CarryViews(), WORDS),
)
