"""The forecast of work without an end: one count, as far as the time goes."""

from __future__ import annotations

from tallywire.core.forecast.format_forecast import CountedForecast

FACET = CountedForecast()
