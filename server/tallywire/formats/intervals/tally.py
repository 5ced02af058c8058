"""What a lane did in intervals: a tally for each piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tallywire.core.formats.base import Tally


@dataclass(slots=True)
class IntervalTally(Tally):
    """The tally of the piece last worked in, and those of all `pieces`."""

    pieces: list[Tally] = field(default_factory=list)


def pieces_of(tally: Tally) -> Sequence[Tally]:
    """Give the tallies of a lane's pieces; none before its first fact."""
    return tally.pieces if isinstance(tally, IntervalTally) else ()
