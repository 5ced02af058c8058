"""A ladder in the competition file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar

from tallywire.core.errors import Problem
from tallywire.formats.format_file import FormatFile
from tallywire.formats.ladder.rules import LadderRules
from tallywire.formats.table_base import FileTable
from tallywire.formats.workout_tables import ClockText, WorkoutTable


class LadderTable(FileTable):
    """[event.workout.ladder]: the window of time for each bar; the bars are the stations."""

    window: ClockText


class LadderFile(FormatFile):
    """Every station is a bar."""

    field: ClassVar[str | None] = "ladder"
    table: ClassVar[Any] = LadderTable
    tie_broken: ClassVar[bool] = True
    for_teams: ClassVar[bool] = False

    def problems(self, path: str, workout: WorkoutTable, own: LadderTable) -> Iterator[Problem]:
        """Give a cap that comes before the last window has closed."""
        needed_ms = len(workout.stations()) * own.window
        if workout.time_cap < needed_ms:
            yield Problem(f"{path}.time_cap", f"{workout.time_cap} ms", f"at least {needed_ms} ms: all windows")

    def rules(self, own: LadderTable) -> LadderRules:
        """Give the window."""
        return LadderRules(window_ms=own.window)
