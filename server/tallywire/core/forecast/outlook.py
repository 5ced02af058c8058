"""The outlook on the rest: the wait for the next fact, the work after it, the chance of a breakdown or a stop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array, predict
from tallywire.core.forecast.model import Learned, Prior
from tallywire.core.forecast.reading import Reading
from tallywire.core.forecast.silence import NextFact, Wait, next_fact, wait_for

HORIZON = 1.6
"""Of endless work, as much is looked at as would take 1.6 times the time left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """L lanes, K legs. After the wait the rest takes exp(`log_ms` + σ (`own_sd` ξ + `shared` η)), ξ and η (g) normal.

    σ² is inverse gamma with `shape` and typical `sigma`. `ahead_ms` (L, K) is how the median divides on the legs,
    `next_units` (L) the units of the `current` leg (L) at the next fact. `breaking` and `stopping` (L) are the chances
    of a breakdown in what is left, and that the lane goes no further.
    """

    wait: Wait
    current: np.ndarray[tuple[int], np.dtype[np.int64]]
    next_units: Array
    log_ms: Array
    own_sd: Array
    shared: Array
    sigma: float
    shape: float
    ahead_ms: Array
    breaking: Array
    stopping: Array


def look_ahead(legs: Legs, reading: Reading, learned: Learned, prior: Prior, *, clock: tuple[float, float]) -> Outlook:
    """Give the outlook; `clock` is (now, the end as far as it can matter) on the heat clock in ms."""
    field = learned.fit.field
    noise = field.rate / field.shape
    leg_ms, leg_var = _leg_times(legs, learned, noise)
    following = next_fact(legs, reading)
    wait = wait_for(reading, following, leg_ms, leg_var, now_ms=clock[0])
    left = _left(reading, following, leg_ms, spare_ms=clock[1] - clock[0])
    log_ms, own_sd, loading, part = _sum_up(learned, noise, left, left * leg_ms * np.exp(leg_var / 2))
    share_left = np.minimum(1.0, (left * legs.expected_ms).sum(axis=1) / legs.whole_ms)
    return Outlook(
        wait=wait,
        current=reading.current,
        next_units=following.units,
        log_ms=log_ms,
        own_sd=own_sd,
        shared=loading @ np.linalg.cholesky(learned.fit.field_spread),
        sigma=float(np.sqrt(noise)),
        shape=field.shape,
        ahead_ms=part * np.exp(log_ms)[:, None],
        breaking=prior.breaking * share_left,
        stopping=_stopping(wait, prior, share_left, legs.whole_ms),
    )


def _leg_times(legs: Legs, learned: Learned, noise: float) -> tuple[Array, Array]:
    """The median time of every leg and the variance of its log (L, K), the noise of one leg included."""
    seen = predict(learned.fit, learned.x, learned.z)
    shared = ((seen.loading @ learned.fit.field_spread) * seen.loading).sum(axis=-1)
    leg_ms = np.asarray(legs.expected_ms * np.exp(seen.mean.clip(-3, 3)))
    return leg_ms, noise * (seen.own + shared + 1 / learned.leg_weight)


def _left(reading: Reading, following: NextFact, leg_ms: Array, *, spare_ms: float) -> Array:
    """The share of every leg that is left after the next fact (L, K), as far as it can matter in the time left."""
    legs = leg_ms.shape[1]
    left = (np.arange(legs) > reading.current[:, None]).astype(np.float64)
    lane = np.flatnonzero(reading.current < legs)
    left[lane, reading.current[lane]] = np.maximum(0.0, 1 - following.share[lane])
    if spare_ms == np.inf:
        return left
    before = np.cumsum(left * leg_ms, axis=1) - left * leg_ms
    return left * (before <= HORIZON * max(0.0, spare_ms) + 1)


def _sum_up(learned: Learned, noise: float, left: Array, mean_ms: Array) -> tuple[Array, Array, Array, Array]:
    """The sum of log-normal legs as one log-normal with the same mean (Fenton 1960; from memory).

    Its variance is that of the first-order expansion, in which every leg counts by its part of the whole. Gives the
    log of its median, the standard deviation of the lane's own part over σ, the field loading, the parts (L, K).
    """
    fitted = learned.fit
    total = np.maximum(mean_ms.sum(axis=1), 1e-3)
    part = mean_ms / total[:, None]
    x, z = (part[:, None] @ learned.x), (part[:, None] @ learned.z)
    whole = predict(fitted, x, z)
    own = whole.own[:, 0] + (part**2 / (learned.leg_weight * np.maximum(left, 1e-9))).sum(axis=1)
    loading = whole.loading[:, 0]
    variance = own + ((loading @ fitted.field_spread) * loading).sum(axis=1)
    return np.log(total) - noise * variance / 2, np.sqrt(own), loading, part


def _stopping(wait: Wait, prior: Prior, share_left: Array, whole_ms: float) -> Array:
    """The chance that the lane has stopped in the silence (the longer, the likelier), or will stop in the work left."""
    before = prior.leaving * np.minimum(1.0, wait.usual_ms / whole_ms)
    stopped = before / (before + (1 - before) * wait.left)
    return np.asarray(1 - (1 - stopped) * (1 - prior.leaving * share_left))
