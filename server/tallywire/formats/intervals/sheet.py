"""The scoresheet of intervals: a table for each piece, and the window it has."""

from __future__ import annotations

from tallywire.core.model.competition import Event
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet, SheetPiece
from tallywire.core.reports.say import Saying
from tallywire.formats.intervals.rules import rules_of


class IntervalSheet(FormatSheet):
    """The same lines are printed for every piece."""

    def pieces(self, event: Event, division: str, say: Saying) -> list[SheetPiece]:
        """Give the lines once for each piece."""
        rules = rules_of(event.workout)
        lines = self.lines(event, division, say, until_ms=rules.work_ms)
        windows = [(_clock(rules.start_ms(number)), _clock(rules.end_ms(number))) for number in range(rules.pieces)]
        return [
            SheetPiece(name=say("paper.intervals.piece", number=number, start=start, end=end), lines=lines)
            for number, (start, end) in enumerate(windows, start=1)
        ]

    def to_write(self, workout: Workout, say: Saying) -> list[str]:
        """A time or a count for each piece, and the one that counts."""
        rules = rules_of(workout)
        numbers = range(1, rules.pieces + 1)
        if rules.timed:
            times = [say("paper.intervals.time_of", number=number) for number in numbers]
            return [*times, say(f"paper.intervals.time.{rules.counts}")]
        counts = [say("paper.intervals.count_of", number=number) for number in numbers]
        return [*counts, say(f"paper.intervals.count.{rules.counts}")]


FACET = IntervalSheet()


def _clock(at_ms: int) -> str:
    return clock_text(at_ms, decimals=0)
