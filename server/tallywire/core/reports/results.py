"""Results as rows, ready to print: every scored part of an event by division, and where each heat's result stands."""

from __future__ import annotations

from dataclasses import dataclass, fields
from fractions import Fraction

from tallywire.core.fold.result_status import ResultStatus, Stage, result_status, weakest
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Division, Event, Heat, Part
from tallywire.core.standings.event_table import EventRow, event_table
from tallywire.core.standings.overall import may_hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which results are wanted: one event, one heat, one division; None stands for all there are."""

    event: str | None = None
    heat: str | None = None
    division: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """One line of a result. `place` counts the whole event, `heat_place` those on the floor together.

    `result_ms` is None where there is no time. `points` are exact.
    """

    event: str
    part: str
    division: str
    place: int
    shared: bool
    entry: str
    name: str
    heat: str
    heat_place: int
    lane: int
    result: str
    result_ms: int | None
    scored_reps: int
    status: str
    no_reps: int
    points: Fraction
    state: str

    def as_data(self) -> dict[str, object]:
        """Give the row as plain data, points as a number."""
        return {each.name: getattr(self, each.name) for each in fields(self)} | {"points": number(self.points)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultTable:
    """A division in one scored part, best first. `raced` of `heats` heats have started; `stage` is the weakest one."""

    event: Event
    part: Part
    division: Division
    raced: int
    heats: int
    stage: Stage
    rows: tuple[ResultRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatReport:
    """Where the result of a heat stands, for the line under a result; `divisions` are those that may be in it."""

    heat: Heat
    event: Event
    divisions: tuple[str, ...]
    started: bool
    life: ResultStatus


def number(points: Fraction) -> float:
    """Give exact points to four decimals, because those who get the files add them up again."""
    value = round(float(points), 4)
    return int(value) if value.is_integer() else value


def heat_reports(snapshot: Snapshot, choice: Choice) -> list[HeatReport]:
    """Tell where the chosen heats that have started stand, and the other heats of their events."""
    return [
        _report(snapshot, each)
        for event in _events(snapshot, choice)
        for each in snapshot.heats_of(event.id)
        if choice.heat in (None, each.heat.id)
        if choice.division is None or may_hold(each, choice.division)
    ]


def result_tables(snapshot: Snapshot, choice: Choice) -> list[ResultTable]:
    """Give the chosen tables of the events that have begun, part by part and division by division."""
    competition = snapshot.competition
    found = [
        _table(snapshot, event, part, division, choice)
        for event in _events(snapshot, choice)
        for part in event.scored_parts()
        for division in competition.divisions.values()
        if choice.division in (None, division.id)
    ]
    return [table for table in found if table.rows]


def _report(snapshot: Snapshot, heat: HeatSnapshot) -> HeatReport:
    return HeatReport(
        heat=heat.heat,
        event=heat.event,
        divisions=tuple(each for each in snapshot.competition.divisions if may_hold(heat, each)),
        started=heat.started is not None,
        life=result_status(heat),
    )


def _events(snapshot: Snapshot, choice: Choice) -> list[Event]:
    wanted = snapshot.heats[choice.heat].event.id if choice.heat else choice.event
    return [
        event
        for event in snapshot.competition.events.values()
        if wanted in (None, event.id) and any(heat.started for heat in snapshot.heats_of(event.id))
    ]


def _table(snapshot: Snapshot, event: Event, part: Part, division: Division, choice: Choice) -> ResultTable:
    heats = [heat for heat in snapshot.heats_of(event.id) if may_hold(heat, division.id)]
    stages = {heat.heat.id: result_status(heat).stage for heat in heats}
    rows = [
        _row(event, part, row, stages[row.heat])
        for row in event_table(snapshot, event, part, division.id)
        if choice.heat in (None, row.heat)
    ]
    return ResultTable(
        event=event,
        part=part,
        division=division,
        raced=sum(heat.started is not None for heat in heats),
        heats=len(heats),
        stage=weakest([stage for heat, stage in stages.items() if choice.heat in (None, heat)]),
        rows=tuple(rows),
    )


def _row(event: Event, part: Part, row: EventRow, stage: Stage) -> ResultRow:
    return ResultRow(
        event=event.id,
        part=part.id,
        division=row.entry.division,
        place=row.place,
        shared=row.shared,
        entry=row.entry.id,
        name=row.entry.name,
        heat=row.heat,
        heat_place=row.heat_place,
        lane=row.lane,
        result=row.outcome.result,
        result_ms=row.outcome.result_ms,
        scored_reps=row.outcome.scored_reps,
        status=row.outcome.status.value,
        no_reps=row.no_reps,
        points=row.points,
        state=stage.value,
    )
