"""Intervals in the competition file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from tallywire.core.errors import Problem
from tallywire.formats.format_file import FormatFile
from tallywire.formats.intervals.rules import Counts, IntervalRules
from tallywire.formats.table_base import FileTable
from tallywire.formats.workout_tables import ClockText, WorkoutTable


class IntervalsTable(FileTable):
    """[event.workout.intervals]: how many pieces, how long they and the rests are, and which of them count."""

    pieces: Annotated[int, Field(ge=1, le=100)]
    work: ClockText
    rest: ClockText | None = None
    counts: Literal["sum", "slowest", "best"] = "sum"
    timed: bool = False


class IntervalFile(FormatFile):
    """The stations are those of one piece."""

    field: ClassVar[str | None] = "intervals"
    table: ClassVar[Any] = IntervalsTable
    told_on_the_way: ClassVar[bool] = False

    def problems(self, path: str, workout: WorkoutTable, own: IntervalsTable) -> Iterator[Problem]:
        """Give a cap that comes before the last piece is over."""
        needed_ms = own.pieces * own.work + (own.pieces - 1) * (own.rest or 0)
        if workout.time_cap < needed_ms:
            expected = f"at least {needed_ms} ms: all pieces and rests"
            yield Problem(f"{path}.time_cap", f"{workout.time_cap} ms", expected)

    def most_reps(self, workout: WorkoutTable, own: IntervalsTable) -> int | None:
        """Give what all pieces hold, where a piece has an end."""
        return own.pieces * workout.scored_reps() if own.timed else None

    def rules(self, own: IntervalsTable) -> IntervalRules:
        """Give the rules in milliseconds."""
        return IntervalRules(
            pieces=own.pieces,
            work_ms=own.work,
            rest_ms=own.rest or 0,
            counts=Counts(own.counts),
            timed=own.timed,
        )
