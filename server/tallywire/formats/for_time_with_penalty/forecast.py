"""The forecast of fixed work with a penalty: those capped have a time as well."""

from __future__ import annotations

from tallywire.core.forecast.format_forecast import CountedForecast
from tallywire.core.model.workout import Workout


class PenaltyForecast(CountedForecast):
    """All are ranked by time."""

    def cap_penalty_ms(self, workout: Workout) -> int | None:
        """Give what each scored rep left at the cap adds to it."""
        return workout.cap_penalty_ms
