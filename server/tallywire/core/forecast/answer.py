"""What a forecast says, in plain numbers: whoever shows them needs nothing of what works them out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tallywire.core.forecast.mixed import Belief

DRAWS = 4000
"""How often a heat is played to its end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A median and central intervals by their level in per cent (50, 80, 95); an infinite end says "maybe never".

    `holds` is the share of the ends drawn in the range of 80 %, its own ends included: of whole reps, loads and bars it
    may be well above that. None where it is what the level says.
    """

    median: float
    intervals: Mapping[int, tuple[float, float]]
    holds: float | None = None

    @property
    def four_in_five(self) -> tuple[float, float]:
        """The ends of the range that is meant to hold 80 %."""
        return self.intervals[80]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneForecast:
    """The forecast of one lane.

    `finish_ms` is the finish as if there were no cap; it is None where no finish is to come (work without an end, a
    lane that is out, another format). `inside_cap` is the chance to finish inside it. `scored_reps` is the count at the
    end of the heat, `own` what the format has beside these, by the name in its frames. `heat_places`, `event_places`
    and `overall_places` are chances, first place first, among the division; `event_places` counts the others of the
    event that have a result, by that result.
    """

    lane: int
    entry: str
    finish_ms: Spread | None
    inside_cap: float | None
    scored_reps: Spread | None
    own: Mapping[str, Spread]
    heat_places: tuple[float, ...]
    event_places: tuple[float, ...]
    points: Spread
    overall_places: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Every lane's forecast. `learned` is what the field showed, by the best answer; `log_pace` is how each entry
    does against the field over the whole work (mean, standard deviation), for its `History` in a later event."""

    lanes: Mapping[int, LaneForecast]
    learned: Belief | None
    log_pace: Mapping[str, tuple[float, float]]
