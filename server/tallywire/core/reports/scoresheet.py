"""What a judge's scoresheet has printed on it: every station end with its cumulative number, and what to fill in."""

from __future__ import annotations

from dataclasses import dataclass

from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Event, Measure
from tallywire.core.model.loads import load_text
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Counts, Credit, Intervals, Leg, Plan, Station, Workout

_MOST_LAPS = 30
_ROOM = 1.5
"""A sheet of repeating rounds has room for half as much again as the expected times allow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One station of one round: the work, the division's load, and the cumulative number at its end.

    `ends_round` is True on the last station of a round. `note` says what else is written down there.
    """

    round: int
    work: str
    load: str
    cumulative: int
    ends_round: bool
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPiece:
    """The lines of one piece of work; `name` is empty when there is only one. `attempts` counts rows for lifts."""

    name: str
    lines: tuple[SheetLine, ...]
    attempts: int = 0


def sheet_pieces(event: Event, division: str) -> list[SheetPiece]:
    """Give what is printed for a division in an event: one piece, or one for each interval."""
    workout = event.workout
    plan = format_of(workout).counting.plan(workout)
    if workout.lifting is not None:
        return [SheetPiece(name="", lines=(), attempts=workout.lifting.attempts or 10)]
    rules = workout.intervals
    if rules is None:
        return [SheetPiece(name="", lines=tuple(_lines(event, plan, division, until_ms=workout.time_cap_ms)))]
    lines = tuple(_lines(event, plan, division, until_ms=rules.work_ms))
    starts = [number * (rules.work_ms + rules.rest_ms) for number in range(rules.pieces)]
    return [
        SheetPiece(name=f"Piece {number}: {_window(start, start + rules.work_ms)}", lines=lines)
        for number, start in enumerate(starts, start=1)
    ]


def to_write(event: Event) -> list[str]:
    """Give what the judge writes at the foot of the sheet besides the count."""
    fields = {
        "for_time": ["finish time", "count at the time cap"],
        "for_time_with_penalty": ["finish time", "count at the time cap"],
        "max_load": ["heaviest good lift"],
    }.get(event.workout.format, ["final count"])
    if event.workout.intervals is not None:
        fields = _of_pieces(event.workout.intervals)
    counts = [part.at_ms for part in event.parts if part.measure is Measure.REPS_AT and part.at_ms is not None]
    return [*fields, *(f"count at {clock_text(at_ms, decimals=0)}" for at_ms in counts)]


def _of_pieces(rules: Intervals) -> list[str]:
    """A time or a count for each piece, and what of them counts."""
    what = "time" if rules.timed else "count"
    counts = {Counts.SUM: "total", Counts.SLOWEST: "slowest piece", Counts.BEST: "best piece"}[rules.counts]
    return [*(f"{what} of piece {number}" for number in range(1, rules.pieces + 1)), f"{counts} ({what})"]


def loads_unit(workout: Workout) -> str:
    """Say what is on the bar at a lift: its own mass and the unit."""
    lifting = workout.lifting
    return "" if lifting is None else f"bar {load_text(lifting.bar_milli, lifting.unit)}, loads in {lifting.unit}"


def _lines(event: Event, plan: Plan, division: str, *, until_ms: int) -> list[SheetLine]:
    last = {leg.round: leg.number for leg in plan.legs}
    return [
        SheetLine(
            round=lap * plan.rounds_a_lap + leg.round,
            work=_work(leg.station),
            load=leg.station.loads.get(division, ""),
            cumulative=lap * plan.lap_scored + leg.scored_after,
            ends_round=leg.number == last[leg.round],
            note=_note(event, lap * plan.rounds_a_lap + leg.round, leg),
        )
        for lap in range(_laps(plan, until_ms))
        for leg in plan.legs
    ]


def _laps(plan: Plan, until_ms: int) -> int:
    if plan.laps is not None:
        return plan.laps
    lap_ms = sum(leg.station.expected_ms for leg in plan.legs)
    return max(1, min(_MOST_LAPS, int(until_ms * _ROOM / lap_ms) + 1))


def _work(station: Station) -> str:
    unit = "" if station.unit == "reps" else f" {station.unit}"
    block = ", counts as one" if station.credit is Credit.BLOCK else ""
    return f"{station.amount}{unit} {station.movement}{block}"


def _note(event: Event, round_number: int, leg: Leg) -> str:
    """A time is written where places depend on it; a ladder's bar has to be done by the end of its window."""
    here = (round_number, leg.number)
    marks = [part.mark for part in event.parts if part.measure is Measure.TIME_AT] + [event.workout.tie_break]
    ladder = event.workout.ladder
    notes = ["time"] if any(mark is not None and (mark.round, mark.station) == here for mark in marks) else []
    if ladder is not None:
        bar = [(one.round, one.number) for one in format_of(event.workout).counting.plan(event.workout).legs].index(
            here
        ) + 1
        notes.append(f"by {clock_text(bar * ladder.window_ms, decimals=0)}")
    return ", ".join(notes)


def _window(start_ms: int, end_ms: int) -> str:
    return f"{clock_text(start_ms, decimals=0)} to {clock_text(end_ms, decimals=0)}"
