"""The rules that a format has of its own, taken out of a workout."""

from __future__ import annotations

from typing import TypeVar

from tallywire.core.model.workout import Workout

R = TypeVar("R")


def own_rules(workout: Workout, kind: type[R]) -> R:
    """Give the workout's own rules. Raises ValueError where they are not of the format's kind."""
    if isinstance(workout.rules, kind):
        return workout.rules
    found = type(workout.rules).__name__ if workout.rules is not None else "no rules"
    raise ValueError(f"found {found} in a workout of the format {workout.format}, expected {kind.__name__}")
