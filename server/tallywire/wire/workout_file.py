"""Workouts of the competition file: checks of what a format needs, and the translation into the core's terms."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.errors import Problem
from tallywire.core.formats.registry import format_named, formats
from tallywire.core.model.workout import Credit, Mark, Station, Team, TeamForm, Workout
from tallywire.formats.format_file import FormatFile
from tallywire.formats.workout_tables import MarkTable, StationTable, WorkoutTable


def workout_problems(path: str, workout: WorkoutTable) -> Iterator[Problem]:
    """Give what is impossible in one workout, each with its path."""
    own = file_of(workout.format)
    yield from _work_problems(path, workout)
    yield from _field_problems(path, workout)
    if workout.tie_break is not None:
        yield from mark_problems(f"{path}.tie_break", workout.tie_break, workout)
        if not own.tie_broken:
            yield Problem(f"{path}.tie_break", "a mark", f"no tie-break: {workout.format} does not use one")
    if workout.team is not None and not own.for_teams:
        yield Problem(f"{path}.team", workout.team.form, f"no team: {workout.format} is for one athlete")
    yield from _minimum_problems(path, workout)


def file_of(name: str) -> FormatFile:
    """Give what the competition file says of a format."""
    return format_named(name).facet(FormatFile)


def _work_problems(path: str, workout: WorkoutTable) -> Iterator[Problem]:
    if bool(workout.station) == bool(workout.round):
        found = "both" if workout.station else "neither"
        yield Problem(f"{path}.station", f"{found} station and round", "one of them: stations, or rounds of stations")
    if workout.round and workout.rounds != 1:
        yield Problem(f"{path}.rounds", str(workout.rounds), "no number of rounds where the rounds are listed")


def _field_problems(path: str, workout: WorkoutTable) -> Iterator[Problem]:
    """Check that each format's own field is only in its own workouts, and holds possible values."""
    for each in formats():
        file = each.facet(FormatFile)
        if file.field is None:
            continue
        own = getattr(workout, file.field)
        if workout.format == each.name and own is None:
            yield Problem(f"{path}.{file.field}", "nothing", f"a value: the format {each.name} needs it")
        if workout.format != each.name and own is not None:
            yield Problem(f"{path}.{file.field}", "a value", f"nothing: only the format {each.name} has it")
        if own is not None:
            yield from file.problems(path, workout, own)


def mark_problems(path: str, mark: MarkTable, workout: WorkoutTable) -> Iterator[Problem]:
    """Give what is wrong with a mark: a round or a station that the workout does not have."""
    rounds = workout.stations_by_round()
    if not all(rounds):
        return
    if not file_of(workout.format).endless and mark.round > len(rounds):
        yield Problem(f"{path}.round", str(mark.round), f"a round from 1 to {len(rounds)}")
        mark = mark.model_copy(update={"round": 1})
    stations = rounds[(mark.round - 1) % len(rounds)]
    if mark.station > len(stations):
        yield Problem(f"{path}.station", str(mark.station), f"a station from 1 to {len(stations)}")


def _minimum_problems(path: str, workout: WorkoutTable) -> Iterator[Problem]:
    """Check that no more scored reps are asked for than the work has."""
    most = _most_reps(workout)
    if most is not None and workout.minimum_reps > most:
        yield Problem(f"{path}.minimum_reps", str(workout.minimum_reps), f"at most {most}: the work has no more")


def _most_reps(workout: WorkoutTable) -> int | None:
    file, own = file_of(workout.format), own_field(workout)
    return None if own is None and file.field is not None else file.most_reps(workout, own)


def own_field(workout: WorkoutTable) -> object | None:
    """Give what stands in the field of the workout's format; None where it has none."""
    field = file_of(workout.format).field
    return None if field is None else getattr(workout, field)


def workout_of(table: WorkoutTable, *, decimals: int, round_up: bool) -> Workout:
    """Turn a checked workout into the core's terms."""
    rounds = tuple(tuple(_station(each) for each in stations) for stations in table.stations_by_round())
    team = table.team
    return Workout(
        format=table.format,
        rounds=rounds,
        time_cap_ms=table.time_cap,
        tie_break=mark_of(table.tie_break),
        minimum_reps=table.minimum_reps,
        decimals=decimals,
        round_up=round_up,
        rules=file_of(table.format).rules(own_field(table)),
        team=None if team is None else Team(form=TeamForm(team.form), members=team.members),
    )


def mark_of(table: MarkTable | None) -> Mark | None:
    """Turn a mark into the core's terms."""
    return None if table is None else Mark(round=table.round, station=table.station)


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
