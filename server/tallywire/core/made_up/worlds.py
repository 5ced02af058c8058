"""The worlds of made-up heats: how a field differs, tires and breaks, and how judges and networks fail.

All figures are common practice, no source. The first six have the names of the forecast trial's worlds and go as those
do: for rehearsals, for practice, and for a trial of the forecast on the program's own bodies. The figures that the
trial reports rest on its own worlds (tests/forecast), which stay where they are: whoever wrote three of them had not
read the model, drew from laws that it does not have, and what is tried must not make its own trial.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """One way in which heats go.

    `skill` and `level` are spreads: of athletes about the field, and of the field about the organiser's expected times.
    `fade` is the range of how much slower somebody is when it is worst. `breakdown` is the chance of a long stop,
    `no_rep` that of a failed attempt, `leaves` that of a withdrawal. `talent` is the spread of how good somebody is at
    each movement, and `mood` how far the pace wanders off from one unit to the next. Of judges: `double` and `missed`
    are chances for each tap, `late_ms` is how long a tap comes after what it counts. `outage` is the chance that a pad
    is cut off.
    """

    skill: float = 0.15
    level: float = 0.12
    fade: tuple[float, float] = (0.05, 0.20)
    jitter: float = 0.18
    breakdown: float = 0.1
    no_rep: float = 0.02
    leaves: float = 1 / 70
    talent: float = 0.08
    mood: float = 0.0
    double: float = 0.003
    missed: float = 0.004
    late_ms: tuple[float, float] = (60, 320)
    outage: float = 0.15


WORLDS: Mapping[str, World] = {
    "steady": World(fade=(0.0, 0.08), breakdown=0.02, no_rep=0.01),
    "fade": World(fade=(0.10, 0.25), breakdown=0.25),
    "storms": World(skill=0.12, fade=(0.12, 0.25), breakdown=0.1, no_rep=0.12),
    "wander": World(skill=0.2, fade=(-0.06, 0.16), mood=0.04, jitter=0.5, breakdown=0.0),
    "kick": World(skill=0.22, fade=(-0.30, -0.08), jitter=0.45, breakdown=0.0),
    "halts": World(skill=0.2, fade=(0.02, 0.25), talent=0.3, breakdown=0.4),
    "clean": World(breakdown=0.0, leaves=0.0, double=0.0, missed=0.0, late_ms=(0, 0), outage=0.0),
    "rough": World(double=0.02, missed=0.02, late_ms=(100, 600), outage=0.6),
}
"""By name; who has a negative fade holds back and gets faster. `clean` has perfect judges and networks, `rough` has bad
ones."""
