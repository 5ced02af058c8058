"""What a lane did in lifts: its attempts."""

from __future__ import annotations

from dataclasses import dataclass, field

from tallywire.core.formats.base import Tally


@dataclass(frozen=True, slots=True)
class Attempt:
    """One lift: its load in thousandths of the unit; `made` is None while it is open."""

    at_ms: int
    load_milli: int
    made: bool | None = None


@dataclass(slots=True)
class LiftTally(Tally):
    """A count of judged attempts, and the attempts themselves."""

    attempts: list[Attempt] = field(default_factory=list)


def attempts_of(tally: Tally) -> list[Attempt]:
    """Give the attempts of a lane, none before the first."""
    return tally.attempts if isinstance(tally, LiftTally) else []
