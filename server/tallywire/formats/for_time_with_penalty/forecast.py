"""The forecast of fixed work with a penalty: those who are capped have a time as well."""

from __future__ import annotations

from tallywire.core.forecast.format_forecast import CountedForecast
from tallywire.core.model.workout import Workout
from tallywire.formats.for_time_with_penalty.rules import rules_of


class PenaltyForecast(CountedForecast):
    """All are ranked by time."""

    def cap_penalty_ms(self, workout: Workout) -> int | None:
        """Give what each scored rep left at the cap adds to it."""
        return rules_of(workout).each_ms


FACET = PenaltyForecast()
