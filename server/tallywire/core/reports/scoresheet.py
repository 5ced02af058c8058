"""What a judge's scoresheet has printed on it: every station end with its cumulative number, and what to fill in."""

from __future__ import annotations

import re

from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Event, Measure
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet, SheetPiece
from tallywire.core.reports.say import Saying

_REPS = re.compile(r"(\d+) reps?")
_OUT = ("WD", "DNS", "DSQ")


def sheet_pieces(event: Event, division: str, say: Saying) -> list[SheetPiece]:
    """Give what is printed for a division in an event: one piece, or several."""
    return _sheet(event.workout).pieces(event, division, say)


def to_write(event: Event, say: Saying) -> list[str]:
    """Give what the judge writes at the foot of the sheet besides the count."""
    counts = [part.at_ms for part in event.parts if part.measure is Measure.REPS_AT and part.at_ms is not None]
    own = _sheet(event.workout).to_write(event.workout, say)
    return [*own, *(say("paper.count_at", time=clock_text(at_ms, decimals=0)) for at_ms in counts)]


def equipment(workout: Workout, say: Saying) -> str:
    """Say which equipment is provided, where the stations alone do not describe the work."""
    return _sheet(workout).equipment(workout, say)


def result_text(workout: Workout, result: str, say: Saying) -> str:
    """Give a result in words: a count, or what stands in its place; figures as they are."""
    reps = _REPS.fullmatch(result)
    if reps:
        return say("shared.reps", n=int(reps[1]))
    if result in _OUT:
        return say(f"result.{result.lower()}")
    return _sheet(workout).result(result, say)


def _sheet(workout: Workout) -> FormatSheet:
    return format_of(workout).facet(FormatSheet)
