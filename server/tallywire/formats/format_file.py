"""What the competition file says of a format: the facet that a format fills where it has a field of its own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar

from tallywire.core.errors import Problem
from tallywire.formats.workout_tables import WorkoutTable


class FormatFile:
    """The questions that the competition file asks a format, answered for fixed work without rules of its own.

    `field` is the name of its own field in [event.workout], `table` the type of what stands there. `endless`: the
    rounds are repeated until the time is up. `tie_broken`: a time at a mark may decide between equal counts.
    `for_teams`: several athletes may share a lane. `told_on_the_way`: a time at a mark, or a count at a time, can be a
    score.
    """

    field: ClassVar[str | None] = None
    table: ClassVar[Any] = None
    endless: ClassVar[bool] = False
    tie_broken: ClassVar[bool] = False
    for_teams: ClassVar[bool] = True
    told_on_the_way: ClassVar[bool] = True

    def problems(self, _path: str, _workout: WorkoutTable, _own: Any) -> Iterator[Problem]:
        """Give the problems of the format's own field: what is impossible, or does not fit the rest of the workout."""
        return iter(())

    def most_reps(self, workout: WorkoutTable, _own: Any) -> int | None:
        """Give the most scored reps that are possible; None where the work has no end."""
        return None if self.endless else workout.scored_reps()

    def rules(self, _own: Any) -> object | None:
        """Give the format's own field in the core's terms, as `Workout.rules`."""
        return None
