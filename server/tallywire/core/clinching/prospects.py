"""What a heat means for the overall standing, as it is said: `stakes.py` works it out, and views show it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tallywire.core.clinching.need import Need
from tallywire.core.clinching.swings import Swing


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """By how many places an entry must beat a rival to stand ahead of it; if negative, it may be beaten by so many.

    `tie_may_break` says that a new tie may break it: where those who share a place earn the mean, it holds for places
    of their own.
    """

    rival: str
    places: int
    tie_may_break: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """What one entry can still reach overall, and whom it must beat. A rival that no margin would beat is left out.

    `cut` is the standing that a following cut looks at; None where no cut follows.
    """

    need: Need
    beats: tuple[Beat, ...]
    cut: Need | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """One division. `swings` are as it stands, best overall first; `early` says that live places say little yet.

    `prospects` hold those on the floor; they are empty where `unknown` (a code of `NotWorkedOut`) says why. `clinched`
    leads overall after this event whatever happens, a withdrawal of its own included. `scores` are those that are open.
    """

    swings: tuple[Swing, ...]
    early: bool
    scores: int = 1
    prospects: Mapping[str, Prospect] = field(default_factory=dict)
    clinched: str | None = None
    unknown: str | None = None
