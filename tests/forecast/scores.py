"""Scores of probabilistic forecasts."""

from __future__ import annotations

from math import erf, exp, log, pi, sqrt

import numpy as np

from forecast.generators import Array


def share_error(share: float, count: int, *, together: float = 1) -> float:
    """The standard error of a share of `count` cases, of which so many err together as if they were one."""
    return sqrt(together * share * (1 - share) / count)


def crps_normal(mean: float, sd: float, value: float) -> float:
    """The CRPS of a normal forecast in closed form (Gneiting and Raftery 2007; from memory)."""
    z = (value - mean) / sd
    density, below = exp(-z * z / 2) / sqrt(2 * pi), (1 + erf(z / sqrt(2))) / 2
    return sd * (z * (2 * below - 1) + 2 * density - 1 / sqrt(pi))


def crps(draws: Array, value: float) -> float:
    """The CRPS of an ensemble, E|X − y| − ½ E|X − X'|."""
    ordered = np.sort(draws)
    n = len(ordered)
    spread = 2 * float((np.arange(1, n + 1) * ordered).sum()) / n**2 - (n + 1) / n**2 * float(ordered.sum())
    return float(np.abs(ordered - value).mean()) - spread


def interval_score(low: float, high: float, value: float, alpha: float) -> float:
    """Width plus 2 / α times the miss (Gneiting and Raftery 2007; from memory)."""
    return (high - low) + 2 / alpha * (max(0.0, low - value) + max(0.0, value - high))


def log_loss(chance: float, draws: int, places: int) -> float:
    """−log of the chance given to what happened, with half a draw added to every place so that it stays finite."""
    return -log((chance * draws + 0.5) / (draws + 0.5 * places))
