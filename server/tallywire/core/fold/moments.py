"""The moments of the heat clock at which a heat changes without a fact: the cap, marks in time, what the format has."""

from __future__ import annotations

from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Event


def clock_moments(event: Event) -> tuple[int, ...]:
    """Give these moments in order, in milliseconds, none of them after the time cap."""
    cap_ms = event.workout.time_cap_ms
    marks = [part.at_ms for part in event.parts if part.at_ms is not None]
    own = format_of(event.workout).counting.moments(event.workout)
    return tuple(sorted({cap_ms, *(at_ms for at_ms in (*marks, *own) if 0 < at_ms < cap_ms)}))
