"""The scoresheet of fixed work against the clock."""

from __future__ import annotations

from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet
from tallywire.core.reports.say import Saying


class PenaltySheet(FormatSheet):
    """A line for every station, and a time or a count at the foot."""

    def to_write(self, _workout: Workout, say: Saying) -> list[str]:
        """The finish time, or the count of a lane that is capped."""
        return [say("paper.finish_time"), say("paper.count_at_cap")]


FACET = PenaltySheet()
