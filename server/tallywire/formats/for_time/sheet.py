"""The scoresheet of fixed work against the clock."""

from __future__ import annotations

from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet


class ForTimeSheet(FormatSheet):
    """A line for every station, and a time or a count at the foot."""

    def to_write(self, _workout: Workout) -> list[str]:
        """The finish time, or the count of a lane that is capped."""
        return ["finish time", "count at the time cap"]
