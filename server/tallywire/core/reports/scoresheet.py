"""What a judge's scoresheet has printed on it: every station end with its cumulative number, and what to fill in."""

from __future__ import annotations

from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Event, Measure
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import FormatSheet, SheetPiece


def sheet_pieces(event: Event, division: str) -> list[SheetPiece]:
    """Give what is printed for a division in an event: one piece, or several."""
    return _sheet(event.workout).pieces(event, division)


def to_write(event: Event) -> list[str]:
    """Give what the judge writes at the foot of the sheet besides the count."""
    counts = [part.at_ms for part in event.parts if part.measure is Measure.REPS_AT and part.at_ms is not None]
    own = _sheet(event.workout).to_write(event.workout)
    return [*own, *(f"count at {clock_text(at_ms, decimals=0)}" for at_ms in counts)]


def equipment(workout: Workout) -> str:
    """Say which equipment is provided, where the stations alone do not describe the work."""
    return _sheet(workout).equipment(workout)


def _sheet(workout: Workout) -> FormatSheet:
    return format_of(workout).facet(FormatSheet)
