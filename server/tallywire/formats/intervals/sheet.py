"""The scoresheet of intervals: a table for each piece, and the window it has."""

from __future__ import annotations

from tallywire.core.model.competition import Event
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet, SheetPiece
from tallywire.formats.intervals.rules import Counts, rules_of

_COUNTED = {Counts.SUM: "total", Counts.SLOWEST: "slowest piece", Counts.BEST: "best piece"}


class IntervalSheet(FormatSheet):
    """The same lines are printed for every piece."""

    def pieces(self, event: Event, division: str) -> list[SheetPiece]:
        """Give the lines once for each piece."""
        rules = rules_of(event.workout)
        lines = self.lines(event, division, until_ms=rules.work_ms)
        windows = [(rules.start_ms(number), rules.end_ms(number)) for number in range(rules.pieces)]
        return [
            SheetPiece(name=f"Piece {number}: {_clock(start_ms)} to {_clock(end_ms)}", lines=lines)
            for number, (start_ms, end_ms) in enumerate(windows, start=1)
        ]

    def to_write(self, workout: Workout) -> list[str]:
        """A time or a count for each piece, and the one that counts."""
        rules = rules_of(workout)
        what = "time" if rules.timed else "count"
        own = [f"{what} of piece {number}" for number in range(1, rules.pieces + 1)]
        return [*own, f"{_COUNTED[rules.counts]} ({what})"]


def _clock(at_ms: int) -> str:
    return clock_text(at_ms, decimals=0)
