"""Workouts of the competition file: what a format needs, and the way into the core's terms."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.errors import Problem
from tallywire.core.model.loads import KNOWN_BARS_MILLI, KNOWN_PLATES_MILLI, load_text
from tallywire.core.model.workout import (
    Counts,
    Credit,
    Intervals,
    Ladder,
    Lifting,
    Mark,
    Station,
    Team,
    TeamForm,
    Workout,
)
from tallywire.wire.competition_schema import (
    IntervalsTable,
    LadderTable,
    LiftingTable,
    MarkTable,
    StationTable,
    WorkoutTable,
)

_NEEDS = {
    "max_load": "lifting",
    "ladder": "ladder",
    "intervals": "intervals",
    "for_time_with_penalty": "cap_penalty_seconds",
}
_TIE_BROKEN = ("for_time", "amrap", "ladder")
_ALONE = ("max_load", "ladder")


def workout_problems(path: str, workout: WorkoutTable) -> Iterator[Problem]:  # noqa: C901
    """Give what is impossible in one workout, each with its path."""
    if bool(workout.station) == bool(workout.round):
        found = "both" if workout.station else "neither"
        yield Problem(f"{path}.station", f"{found} station and round", "one of them: stations, or rounds of stations")
    if workout.round and workout.rounds != 1:
        yield Problem(f"{path}.rounds", str(workout.rounds), "no number of rounds where the rounds are listed")
    for form, needed in _NEEDS.items():
        present = getattr(workout, needed) is not None
        if workout.format == form and not present:
            yield Problem(f"{path}.{needed}", "nothing", f"a value: the format {form} needs it")
        if workout.format != form and present:
            yield Problem(f"{path}.{needed}", "a value", f"nothing: only the format {form} has it")
    if workout.tie_break is not None:
        yield from mark_problems(f"{path}.tie_break", workout.tie_break, workout)
        if workout.format not in _TIE_BROKEN:
            yield Problem(f"{path}.tie_break", "a mark", f"nothing: {workout.format} asks for no tie-break time")
    if workout.team is not None and workout.format in _ALONE:
        yield Problem(f"{path}.team", workout.team.form, f"nothing: {workout.format} is lifted by one")
    yield from _minimum_problems(path, workout)
    if workout.lifting is not None:
        yield from _lifting_problems(f"{path}.lifting", workout.lifting)
        yield from _attempt_problems(path, workout, workout.lifting)
    if workout.ladder is not None:
        yield from _ladder_problems(path, workout, workout.ladder)
    if workout.intervals is not None:
        yield from _intervals_problems(path, workout, workout.intervals)


def mark_problems(path: str, mark: MarkTable, workout: WorkoutTable) -> Iterator[Problem]:
    """Give what is wrong with a mark: a round or a station that the workout does not have."""
    rounds = workout.stations_by_round()
    if not all(rounds):
        return
    endless = workout.format == "amrap"
    if not endless and mark.round > len(rounds):
        yield Problem(f"{path}.round", str(mark.round), f"a round from 1 to {len(rounds)}")
        mark = mark.model_copy(update={"round": 1})
    stations = rounds[(mark.round - 1) % len(rounds)]
    if mark.station > len(stations):
        yield Problem(f"{path}.station", str(mark.station), f"a station from 1 to {len(stations)}")


def _lifting_problems(path: str, lifting: LiftingTable) -> Iterator[Problem]:
    plates, bars = KNOWN_PLATES_MILLI[lifting.unit], KNOWN_BARS_MILLI[lifting.unit]
    for index, plate in enumerate(lifting.plates, start=1):
        if milli(plate) not in plates:
            yield Problem(
                f"{path}.plates[{index}]", load_text(milli(plate), lifting.unit), _listed(plates, lifting.unit)
            )
    if milli(lifting.bar) not in bars:
        yield Problem(f"{path}.bar", load_text(milli(lifting.bar), lifting.unit), _listed(bars, lifting.unit))


def _attempt_problems(path: str, workout: WorkoutTable, lifting: LiftingTable) -> Iterator[Problem]:
    """A lift is one station, and its amount is the attempts each has."""
    stations = [station for each in workout.stations_by_round() for station in each]
    if len(stations) > 1:
        yield Problem(f"{path}.station", f"{len(stations)} stations", "one: the lift")
    for station in stations[:1]:
        if lifting.attempts is not None and station.amount != lifting.attempts:
            expected = f"{lifting.attempts}: as many as the attempts"
            yield Problem(f"{path}.station[1].amount", str(station.amount), expected)


def _ladder_problems(path: str, workout: WorkoutTable, ladder: LadderTable) -> Iterator[Problem]:
    bars = sum(map(len, workout.stations_by_round()))
    if workout.time_cap < bars * ladder.window:
        yield Problem(f"{path}.time_cap", f"{workout.time_cap} ms", f"at least {bars * ladder.window} ms: all windows")


def _minimum_problems(path: str, workout: WorkoutTable) -> Iterator[Problem]:
    """Of work that has an end no more can be asked than there is."""
    most = _most_reps(workout)
    if most is not None and workout.minimum_reps > most:
        yield Problem(f"{path}.minimum_reps", str(workout.minimum_reps), f"at most {most}: so many there are")


def _most_reps(workout: WorkoutTable) -> int | None:
    stations = [station for each in workout.stations_by_round() for station in each]
    once = sum(1 if station.credit == "block" else station.amount for station in stations)
    if workout.intervals is not None:
        return workout.intervals.pieces * once if workout.intervals.timed else None
    if workout.lifting is not None:
        return workout.lifting.attempts
    return None if workout.format == "amrap" else once


def _listed(known: tuple[int, ...], unit: str) -> str:
    return f"one of {', '.join(load_text(each, unit) for each in known)}"


def _intervals_problems(path: str, workout: WorkoutTable, intervals: IntervalsTable) -> Iterator[Problem]:
    needed_ms = intervals.pieces * intervals.work + (intervals.pieces - 1) * (intervals.rest or 0)
    if workout.time_cap < needed_ms:
        yield Problem(f"{path}.time_cap", f"{workout.time_cap} ms", f"at least {needed_ms} ms: all pieces and rests")


def workout_of(table: WorkoutTable, *, decimals: int, round_up: bool) -> Workout:
    """Turn a checked workout into the core's terms."""
    rounds = tuple(tuple(_station(each) for each in stations) for stations in table.stations_by_round())
    intervals, team = table.intervals, table.team
    return Workout(
        format=table.format,
        rounds=rounds,
        time_cap_ms=table.time_cap,
        tie_break=mark_of(table.tie_break),
        cap_penalty_ms=round(1000 * (table.cap_penalty_seconds or 0)),
        minimum_reps=table.minimum_reps,
        decimals=decimals,
        round_up=round_up,
        lifting=None if table.lifting is None else _lifting(table.lifting),
        ladder=None if table.ladder is None else Ladder(window_ms=table.ladder.window),
        intervals=None if intervals is None else _intervals(intervals),
        team=None if team is None else Team(form=TeamForm(team.form), members=team.members),
    )


def mark_of(table: MarkTable | None) -> Mark | None:
    """Turn a mark into the core's terms."""
    return None if table is None else Mark(round=table.round, station=table.station)


def milli(load: float) -> int:
    """Give a load in thousandths of its unit."""
    return round(load * 1000)


def _lifting(table: LiftingTable) -> Lifting:
    return Lifting(
        unit=table.unit,
        bar_milli=milli(table.bar),
        collar_milli=milli(table.collar),
        plates_milli=tuple(sorted({milli(plate) for plate in table.plates}, reverse=True)),
        attempts=table.attempts,
    )


def _intervals(table: IntervalsTable) -> Intervals:
    return Intervals(
        pieces=table.pieces,
        work_ms=table.work,
        rest_ms=table.rest or 0,
        counts=Counts(table.counts),
        timed=table.timed,
    )


def _station(each: StationTable) -> Station:
    return Station(
        movement=each.movement,
        amount=each.amount,
        unit=each.unit,
        credit=Credit(each.credit),
        expected_ms=round(each.expected_seconds * 1000),
        touch_guard_ms=each.touch_guard_ms,
        loads=dict(each.loads),
    )
