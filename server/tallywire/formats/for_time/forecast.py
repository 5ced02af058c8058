"""The forecast of fixed work: one count, with a cap to beat."""

from __future__ import annotations

from tallywire.core.forecast.format_forecast import CountedForecast


class ForTimeForecast(CountedForecast):
    """Finish times are told to the commentator once the cap is near."""

    tells_finishes = True


FACET = ForTimeForecast()
