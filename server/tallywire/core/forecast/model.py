"""What is believed before the start, and what a heat teaches.

The log of a station's time over its expected time is a sum: how hard the workout is, the station, fatigue over the
course of the work (a slope, and a bend half way), the lane's own level, its own slope, steps at which its
pace changes for good, its own strength at a station, and noise. Effects are pooled: lanes share what the field shows
and differ as much as their own work says. Progress, not the round's number, carries fatigue, so that rounds of
different length and endless work fit in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array, Belief, Fit, Rows, fit
from tallywire.core.forecast.reading import Reading

KNOTS = (0.2, 0.4, 0.6, 0.8)
BEND = 0.5
WEIGHING = 0.75
"""Fatigue bends half way through. A leg twice as long says 2^0.75 times as much."""
MOST_STRENGTHS = 6
FIELD_BASE = 3
LANE_BASE = 2 + len(KNOTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Standard deviations of the effects on the log of time, and the means that are not 0.

    The means of slope and bend make the last round about 12 % slower than the first: "last rounds run 5–25 % slower
    than the first for most, flat for the best" (common practice, no source). `breaking` and `leaving` are the chances
    that an entry breaks down or withdraws in the course of a whole heat. The figures were chosen on made-up heats
    other than those of docs/forecast-model.md.
    """

    level_sd: float = 0.15
    station_sd: float = 0.15
    slope_mean: float = 0.09
    slope_sd: float = 0.10
    bend_mean: float = 0.10
    bend_sd: float = 0.16
    entry_sd: float = 0.10
    entry_slope_sd: float = 0.06
    step_sd: float = 0.04
    strength_sd: float = 0.06
    noise_sd: float = 0.17
    noise_shape: float = 4.0
    breaking: float = 0.12
    leaving: float = 0.015


@dataclass(frozen=True, slots=True)
class History:
    """What is known of an entry from earlier events: the log of its time over the field's, and how sure that is."""

    log_pace: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """The fit, and the rows (L, K, …) of every leg to predict with."""

    fit: Fit
    x: Array
    z: Array
    leg_weight: Array


def believe(legs: Legs, prior: Prior) -> Belief:
    """What is believed of the field before the start (g = 3 + stations)."""
    spread = [prior.level_sd, prior.slope_sd, prior.bend_sd] + [prior.station_sd] * legs.stations
    mean = np.zeros(FIELD_BASE + legs.stations)
    mean[1] = prior.slope_mean
    mean[2] = prior.bend_mean
    return Belief(
        mean=mean,
        precision=np.diag(prior.noise_sd**2 / np.square(spread)),
        shape=prior.noise_shape,
        rate=prior.noise_shape * prior.noise_sd**2,
    )


def carry(learned: Belief, before: Belief, *, keep: float = 0.5) -> Belief:
    """Take what one heat taught into the next heat of the same workout: `keep` of what it added is believed."""
    added = keep * (learned.precision - before.precision)
    precision = before.precision + added
    right = before.precision @ before.mean + keep * (learned.precision @ learned.mean - before.precision @ before.mean)
    shape = before.shape + min(keep * (learned.shape - before.shape), 20.0)
    return Belief(
        mean=np.asarray(np.linalg.solve(precision, right), dtype=np.float64),
        precision=precision,
        shape=shape,
        rate=shape * learned.noise**2,
    )


def learn(
    legs: Legs, reading: Reading, prior: Prior, *, field: Belief, history: Sequence[History | None] = ()
) -> Learned:
    """Fit the model to what the lanes have done. `history` is one per lane, or empty."""
    lanes, count = reading.spent_ms.shape
    x = np.broadcast_to(_field_rows(legs), (lanes, count, len(field.mean)))
    z = np.broadcast_to(_lane_rows(legs), (lanes, count, LANE_BASE + len(_strengths(legs))))
    weight = (legs.expected_ms / legs.expected_ms.mean()) ** WEIGHING
    rows = _observed(legs, reading, x, z, weight)
    precision, mean = _lane_belief(legs, prior, lanes, history)
    return Learned(fit=fit(rows, field, precision, mean), x=x, z=z, leg_weight=weight)


def _observed(legs: Legs, reading: Reading, x: Array, z: Array, weight: Array) -> Rows:
    """Complete legs, and the units of the leg in progress as a part of one, weighing what it is of the whole."""
    lane = np.arange(len(reading.current))
    at = np.minimum(reading.current, len(legs.amount) - 1)
    share = np.where(reading.current < len(legs.amount), reading.share(legs), 0.0)
    ratio = reading.spent_ms / legs.expected_ms
    part = reading.part_ms / np.maximum(legs.expected_ms[at] * share, 1.0)
    ratio[lane, at] = np.where(share > 0, part, ratio[lane, at])
    weights = np.where(np.isfinite(reading.spent_ms), weight, 0.0)
    weights[lane, at] = np.where(share > 0, weight[at] * share, weights[lane, at])
    seen = weights > 0
    y = np.log(np.clip(np.where(seen, ratio, 1.0), 0.1, 10.0))
    return Rows(x=x, z=z, y=y, weight=weights)


def _field_rows(legs: Legs) -> Array:
    rows = np.zeros((len(legs.amount), FIELD_BASE + legs.stations))
    rows[:, 0] = 1.0
    rows[:, 1] = legs.progress
    rows[:, 2] = np.maximum(legs.progress - BEND, 0.0)
    rows[np.arange(len(legs.amount)), FIELD_BASE + legs.station] = 1.0
    return rows


def _lane_rows(legs: Legs) -> Array:
    strengths = _strengths(legs)
    rows = np.zeros((len(legs.amount), LANE_BASE + len(strengths)))
    rows[:, 0] = 1.0
    rows[:, 1] = legs.progress
    for place, knot in enumerate(KNOTS):
        rows[:, 2 + place] = legs.progress > knot
    for place, station in enumerate(strengths):
        rows[:, LANE_BASE + place] = legs.station == station
    return rows


def _strengths(legs: Legs) -> tuple[int, ...]:
    return legs.repeated[:MOST_STRENGTHS]


def _lane_belief(legs: Legs, prior: Prior, lanes: int, history: Sequence[History | None]) -> tuple[Array, Array]:
    spread = [prior.entry_sd, prior.entry_slope_sd, *[prior.step_sd] * len(KNOTS)]
    spread += [prior.strength_sd] * len(_strengths(legs))
    precision = np.tile(np.diag(prior.noise_sd**2 / np.square(spread)), (lanes, 1, 1))
    mean = np.zeros((lanes, len(spread)))
    for lane, known in enumerate(history):
        if known is not None:
            precision[lane, 0, 0] = (prior.noise_sd / max(known.sd, 0.01)) ** 2
            mean[lane, 0] = known.log_pace
    return precision, mean
