"""The worlds of made-up heats: how a field differs, tires and breaks, and how judges and networks fail.

All figures are common practice, no source. The names of the first three are those of the forecast's trial, whose
worlds they resemble; the trial keeps its own, because the figures that it reports rest on those very heats.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """One way in which heats go.

    `skill` and `level` are spreads: of athletes about the field, and of the field about the organiser's expected times.
    `fade` is the range of how much slower somebody is when it is worst. `breakdown` is the chance of a long stop,
    `no_rep` that of a failed attempt, `leaves` that of a withdrawal. Of judges: `double` and `missed` are chances for
    each tap, `late_ms` is how long a tap comes after what it counts. `outage` is the chance that a pad is cut off.
    """

    skill: float = 0.15
    level: float = 0.12
    fade: tuple[float, float] = (0.05, 0.20)
    jitter: float = 0.18
    breakdown: float = 0.1
    no_rep: float = 0.02
    leaves: float = 1 / 70
    double: float = 0.003
    missed: float = 0.004
    late_ms: tuple[float, float] = (60, 320)
    outage: float = 0.15


WORLDS: Mapping[str, World] = {
    "steady": World(fade=(0.0, 0.08), breakdown=0.02, no_rep=0.01),
    "fade": World(fade=(0.10, 0.25), breakdown=0.25),
    "storms": World(skill=0.12, fade=(0.12, 0.25), breakdown=0.1, no_rep=0.12),
    "clean": World(breakdown=0.0, leaves=0.0, double=0.0, missed=0.0, late_ms=(0, 0), outage=0.0),
    "rough": World(double=0.02, missed=0.02, late_ms=(100, 600), outage=0.6),
}
"""By name; `clean` has perfect judges and networks, `rough` bad ones."""
