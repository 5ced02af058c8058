"""The scoresheet of fixed work against the clock."""

from __future__ import annotations

from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet


class PenaltySheet(FormatSheet):
    """Station lines, and a time or a count."""

    def to_write(self, _workout: Workout) -> list[str]:
        """The time, or the count of those who are capped."""
        return ["finish time", "count at the time cap"]
