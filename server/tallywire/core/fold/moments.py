"""The moments of the heat clock at which a heat changes without a fact: the cap, the ends of windows, marks in time."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.model.competition import Event
from tallywire.core.model.workout import Workout


def clock_moments(event: Event) -> tuple[int, ...]:
    """Give them in order, in milliseconds, none after the time cap."""
    cap_ms = event.workout.time_cap_ms
    marks = [part.at_ms for part in event.parts if part.at_ms is not None]
    return tuple(sorted({cap_ms, *(at_ms for at_ms in (*marks, *_windows(event.workout)) if 0 < at_ms < cap_ms)}))


def _windows(workout: Workout) -> Iterator[int]:
    """The beginning and the end of every piece, and the end of every bar's window."""
    if workout.intervals is not None:
        for number in range(workout.intervals.pieces):
            yield workout.intervals.start_ms(number)
            yield workout.intervals.end_ms(number)
    if workout.ladder is not None:
        yield from (bar * workout.ladder.window_ms for bar in range(1, sum(map(len, workout.rounds)) + 1))
