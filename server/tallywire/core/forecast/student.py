"""Student's t: distribution function and quantiles, for closed-form predictive intervals without SciPy."""

from __future__ import annotations

from math import exp, lgamma, log, log1p

import numpy as np

from tallywire.core.forecast.mixed import Array, Fit, predict


def cdf(t: float, df: float) -> float:
    """P(T ≤ t) by the incomplete beta function (DLMF 8.17 with its continued fraction 8.17.22)."""
    tail = 0.5 * _beta_share(df / 2, 0.5, df / (df + t * t))
    return 1 - tail if t > 0 else tail


def quantile(p: float, df: float) -> float:
    """The t with P(T ≤ t) = p, by bisection to about 1e-12. Raises ValueError unless 0 < p < 1 and df > 0."""
    if not (0 < p < 1 and df > 0):
        raise ValueError(f"found p {p} and df {df}, expected 0 < p < 1 and df > 0")
    if p < 0.5:
        return -quantile(1 - p, df)
    low, high = 0.0, 2.0
    while cdf(high, df) < p:
        high *= 2
    while high - low > 1e-12 * max(1.0, high):
        middle = (low + high) / 2
        low, high = (middle, high) if cdf(middle, df) < p else (low, middle)
    return (low + high) / 2


def interval(learned: Fit, x: Array, z: Array, *, weight: float, level: float) -> tuple[float, float]:
    """The central interval for one new observation of the first lane with noise variance σ² / weight.

    `x` (g) and `z` (p) are its row. The predictive is Student's t with 2 · shape degrees of freedom.
    """
    seen = predict(learned, x[None, None], z[None, None])
    loading = seen.loading[0, 0]
    variance = seen.own[0, 0] + loading @ learned.field_spread @ loading + 1 / weight
    df = 2 * learned.field.shape
    reach = quantile((1 + level) / 2, df) * learned.field.noise * float(np.sqrt(variance))
    return float(seen.mean[0, 0]) - reach, float(seen.mean[0, 0]) + reach


def _beta_share(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function I_x(a, b)."""
    if x in (0.0, 1.0):
        return x
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x > (a + 1) / (a + b + 2):
        return 1 - front * _fraction(b, a, 1 - x) / b
    return front * _fraction(a, b, x) / a


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction by Lentz's method (from memory)."""
    tiny = 1e-300
    c, d = 1.0, 1 / _away(1 - (a + b) * x / (a + 1), tiny)
    value = d
    for m in range(1, 1000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for step in (even, odd):
            d = 1 / _away(1 + step * d, tiny)
            c = _away(1 + step / c, tiny)
            value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return value


def _away(value: float, tiny: float) -> float:
    return value if abs(value) > tiny else tiny
