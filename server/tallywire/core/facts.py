"""Facts: what happened, in the past tense, one dataclass each.

A fact has an `id` made by whoever sent it, the `heat`, the time on the heat clock `at_ms`, its `sender` and the
sender's own `sequence` (1, 2, 3 …). `heat` facts concern everyone on the floor, `LaneFact`s one lane.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """What every fact carries."""

    id: str
    heat: str
    at_ms: int
    sender: str
    sequence: int

    @property
    def order(self) -> tuple[int, str, int]:
        """The one order all facts are read in: heat clock, then sender, then the sender's own number."""
        return (self.at_ms, self.sender, self.sequence)


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneFact(Fact):
    """A fact about one lane."""

    lane: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStarted(Fact):
    """The clock of the heat stood at `at_ms` (normally 0) when wall time was `unix_ms`."""

    unix_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatEnded(Fact):
    """The officials ended the heat; nothing later counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepCounted(LaneFact):
    """`n` more units of the current station were done (repetitions, metres, calories …)."""

    n: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockCompleted(LaneFact):
    """The current station, credited one for the whole block, was completed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRepCalled(LaneFact):
    """An attempt did not meet the movement standard. It never lowers the count."""

    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountCorrected(LaneFact):
    """The table set the cumulative number of the lane to `scored_reps` as of this moment."""

    scored_reps: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished(LaneFact):
    """The judge saw the lane finish."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn(LaneFact):
    """The entry stopped and will not go on."""

    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FactVoided(Fact):
    """The fact with the id `voids` never happened. `lane` is the lane of that fact, None for a heat fact."""

    voids: str
    lane: int | None = None
    reason: str = ""


HEAT_FACTS: tuple[type[Fact], ...] = (HeatStarted, HeatEnded)
LANE_FACTS: tuple[type[LaneFact], ...] = (
    RepCounted,
    BlockCompleted,
    NoRepCalled,
    CountCorrected,
    Finished,
    Withdrawn,
)
FACT_TYPES: tuple[type[Fact], ...] = (*HEAT_FACTS, *LANE_FACTS, FactVoided)


def wire_name(fact_type: type[Fact]) -> str:
    """Give the name a fact has on the wire: RepCounted → rep_counted."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", fact_type.__name__).lower()
