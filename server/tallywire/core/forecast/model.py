"""What is believed before the start, and what a heat teaches.

The log of a station's time over its expected time is a sum: how hard the workout is, the station, a curve over the
course of the work (a slope and two bends), the lane's own level and slope, steps at which its pace changes for good,
its own strength at a station, and noise. Effects are pooled: lanes share what the field shows and differ as much as
their own work says. How noisy the work is, and how far lanes go ways of their own, is not taken for granted: some
settings are tried, and each is believed as much as it foretold what was seen. Progress, not the round's number, carries
the curve, so that rounds of different length and endless work fit in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Any

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array, Beliefs, Fit, LaneBelief, Rows, evidence, fit_each, lane_parts
from tallywire.core.forecast.reading import Reading

KNOTS = (0.15, 0.35, 0.55, 0.7, 0.85)
BENDS = (0.3, 0.65)
WEIGHING = 0.75
"""Lanes change their pace at the knots, the field's curve bends. A leg twice as long says 2^0.75 times as much."""
MOST_STRENGTHS = 4
FIELD_BASE = 2 + len(BENDS)
LANE_BASE = 2 + len(KNOTS)
MOST_SETTINGS, LEAST_SHARE = 3, 0.1
"""At most so many settings are drawn from, each believed at least a tenth as much as the best."""
_LEAST = float(np.log(LEAST_SHARE))


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One setting of how noisy a station is, and how many times as far as `Prior` says lanes go ways of their own:
    in all they do, and in what comes late."""

    noise_sd: float
    ways: float
    late: float


SETTINGS = tuple(
    Setting(noise_sd=noise, ways=ways, late=late)
    for noise, (ways, late) in product((0.04, 0.09, 0.2), ((0.4, 0.3), (1.0, 0.9), (1.0, 1.8), (2.0, 1.0)))
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Standard deviations of the effects on the log of time, and the means that are not 0.

    There is room for a field that fades, one that holds its pace and one that gets faster; the means are those of
    practice: "last rounds run 5–25 % slower than the first for most, flat for the best", and "in a five-round piece
    round four is where pace breaks" (common practice, no source): so a lane's steps grow with the square of progress,
    whatever it showed before. `usual_noise` and `setting_sd` say which settings are likely before anything is seen.
    `breaking` and `leaving` are the chances that an entry breaks down or withdraws in the course of a whole heat.
    The figures were chosen on made-up heats other than those of docs/forecast-model.md.
    """

    level_sd: float = 0.18
    station_sd: float = 0.14
    slope_mean: float = 0.025
    slope_sd: float = 0.12
    bend_means: tuple[float, ...] = (0.06, 0.10)
    bend_sds: tuple[float, ...] = (0.06, 0.10)
    entry_sd: float = 0.08
    entry_slope_sd: float = 0.03
    step_sd: float = 0.015
    late_sd: float = 0.09
    strength_sd: float = 0.06
    usual_noise: float = 0.2
    setting_sd: float = 0.7
    noise_shape: float = 15.0
    breaking: float = 0.2
    leaving: float = 0.015


@dataclass(frozen=True, slots=True)
class History:
    """What is known of an entry from earlier events: the log of its time over the field's, and how sure that is."""

    log_pace: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """What is believed of a workout before a heat: mean (g) and variance (g, g) of the field's effects, the log of how
    much each setting is believed, and the variance (g) by which one heat's field differs from another's. `heats` have
    been seen."""

    mean: Array
    variance: Array
    settings: Array
    between: Array
    heats: int = 0

    @property
    def of_a_heat(self) -> Array:
        """The variance (g, g) of the effects of the next heat's field."""
        return self.variance + np.diag(self.between) if self.heats else self.variance


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """One setting's fit, the share of the draws it gets, and the rows (L, K, …) of every leg to predict with."""

    fit: Fit
    x: Array
    z: Array
    leg_weight: Array
    share: float
    settings: Array = field(default_factory=lambda: np.zeros(len(SETTINGS)))


BETWEEN = 0.25
BETWEEN_LEVELS = 0.6
"""What differs between the fields of two heats of a workout, as a part of what is uncertain before the first. Levels
differ more than the rest, because heats are seeded."""


def believe(legs: Legs, prior: Prior) -> Taught:
    """What is believed of the field before the start (g = 4 + stations)."""
    spread = np.array([prior.level_sd, prior.slope_sd, *prior.bend_sds] + [prior.station_sd] * legs.stations)
    mean = np.zeros(len(spread))
    mean[1:FIELD_BASE] = [prior.slope_mean, *prior.bend_means]
    return Taught(
        mean=mean,
        variance=np.diag(spread**2),
        settings=np.array([_likely(prior, each) for each in SETTINGS]),
        between=np.square(spread * np.where(np.arange(len(spread)) == 0, BETWEEN_LEVELS, BETWEEN)),
    )


def _likely(prior: Prior, setting: Setting) -> float:
    off = np.log([setting.noise_sd / prior.usual_noise, setting.ways, setting.late])
    return -float((off**2).sum()) / (2 * prior.setting_sd**2)


def carry(learned: Sequence[Learned], before: Taught) -> Taught:
    """Take what one heat taught (the best of its settings) into the next heat of the same workout.

    What the heat said of its own field says less of the workout: its information is that of its rows, in units of the
    noise that it showed, blurred by what differs between two fields. No information is negative, so neither is any
    variance, however far the noise that was seen is from the one that was believed.
    """
    found, prior = learned[0].fit.field, np.linalg.inv(before.of_a_heat)
    believed = prior * SETTINGS[int(np.argmax(learned[0].settings))].noise_sd ** 2
    side = (found.precision @ found.mean - believed @ before.mean) / found.noise**2
    said, blurred = _blurred((found.precision - believed) / found.noise**2, side, before.between)
    known = np.linalg.inv(before.variance)
    variance = np.linalg.inv(known + said)
    return Taught(
        mean=variance @ (known @ before.mean + blurred),
        variance=(variance + variance.T) / 2,
        settings=learned[0].settings,
        between=before.between,
        heats=before.heats + 1,
    )


def _blurred(said: Array, side: Array, between: Array) -> tuple[Array, Array]:
    """Information S (g, g) and S times the mean (g) of one field, as information of another: S (1 + B S)⁻¹.

    B has `between` (g) on its diagonal. By a root R of S it is R (1 + R' B R)⁻¹ R', which is symmetric and never
    negative, whatever S has lost to rounding.
    """
    values, vectors = np.linalg.eigh((said + said.T) / 2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    kept = root @ np.linalg.inv(np.eye(len(side)) + (root.T * between) @ root)
    blurred = kept @ root.T
    return blurred, side - blurred @ (between * side)


@dataclass(frozen=True, slots=True, kw_only=True)
class Believed:
    """What is believed of a heat before anybody has done anything, of a `taught` field and entries with a `history`:
    the rows (L, K, …) and weights (K) of every leg, the field under each setting, and the lanes."""

    legs: Legs
    prior: Prior
    taught: Taught
    history: tuple[History | None, ...]
    x: Array
    z: Array
    leg_weight: Array
    fields: Beliefs
    lanes: LaneBelief

    def is_of(self, legs: Legs, prior: Prior, taught: Taught, history: Sequence[History | None]) -> bool:
        """Tell whether it is believed of this."""
        same = self.legs is legs and self.taught is taught
        return same and self.prior == prior and self.history == tuple(history)


def believed_of(
    legs: Legs, prior: Prior, taught: Taught, history: Sequence[History | None], *, before: Believed | None = None
) -> Believed:
    """Give what is believed of a heat; where nothing has changed, what was believed `before`."""
    if before is not None and before.is_of(legs, prior, taught, history):
        return before
    lanes, count = len(history), len(legs.amount)
    variance, mean = _lane_belief(legs, prior, history)
    fields, precision = _by_setting(prior, taught, variance)
    return Believed(
        legs=legs,
        prior=prior,
        taught=taught,
        history=tuple(history),
        x=np.broadcast_to(_field_rows(legs), (lanes, count, len(taught.mean))),
        z=np.broadcast_to(_lane_rows(legs), (lanes, count, LANE_BASE + len(_strengths(legs)))),
        leg_weight=(legs.expected_ms / legs.expected_ms.mean()) ** WEIGHING,
        fields=fields,
        lanes=LaneBelief.of(precision, mean),
    )


def learn(  # noqa: PLR0913
    legs: Legs,
    reading: Reading,
    prior: Prior,
    *,
    taught: Taught,
    history: Sequence[History | None] = (),
    handed_on: dict[str, Any] | None = None,
) -> list[Learned]:
    """Fit the model to what the lanes have done, the best setting first. `history` is one per lane, or empty.

    `handed_on` goes from one time to the next in a heat: only what has changed is worked out again.
    """
    kept = {} if handed_on is None else handed_on
    known = tuple(history) or (None,) * len(reading.current)
    believed = kept["believed"] = believed_of(legs, prior, taught, known, before=kept.get("believed"))
    rows = _observed(legs, reading, believed)
    lanes = kept["lanes"] = lane_parts(rows, believed.lanes, kept.get("lanes"))
    fits = fit_each(lanes, believed.fields)
    settings = taught.settings + evidence(fits, believed.fields)
    settings -= settings.max()
    best = [n for n in np.argsort(-settings, kind="stable")[:MOST_SETTINGS] if settings[n] >= _LEAST]
    weights = np.exp(settings[best])
    return [
        Learned(
            fit=fits.one(n),
            x=believed.x,
            z=believed.z,
            leg_weight=believed.leg_weight,
            share=float(share),
            settings=settings,
        )
        for n, share in zip(best, weights / weights.sum(), strict=True)
    ]


def _by_setting(prior: Prior, taught: Taught, variance: Array) -> tuple[Beliefs, Array]:
    """What each setting makes of the beliefs about the field, and the precision of lanes' effects (C, L, p, p)."""
    noise = np.array([each.noise_sd**2 for each in SETTINGS])
    field_precision = np.linalg.inv(taught.of_a_heat) * noise[:, None, None]
    fields = Beliefs.of(taught.mean, field_precision, prior.noise_shape, prior.noise_shape * noise)
    own = np.tile(variance, (len(SETTINGS), 1, 1))
    own[:, :, 1:] *= np.array([each.ways**2 for each in SETTINGS])[:, None, None]
    late = np.array([each.late for each in SETTINGS])[:, None] * prior.late_sd * np.square(KNOTS)
    own[:, :, 2:LANE_BASE] += (late**2)[:, None]
    precision = np.zeros((*own.shape, own.shape[2]))
    at = np.arange(own.shape[2])
    precision[..., at, at] = noise[:, None, None] / own
    return fields, precision


def _observed(legs: Legs, reading: Reading, believed: Believed) -> Rows:
    """Complete legs, and the units of the leg in progress as a part of one, weighing what it is of the whole."""
    lane, at, weight = np.arange(len(reading.current)), reading.at, believed.leg_weight
    share = np.where(reading.current < len(legs.amount), reading.share, 0.0)
    ratio = reading.spent_ms / legs.expected_ms
    part = reading.part_ms / np.maximum(legs.expected_ms[at] * share, 1.0)
    ratio[lane, at] = np.where(share > 0, part, ratio[lane, at])
    weights = np.where(np.isfinite(reading.spent_ms), weight, 0.0)
    weights[lane, at] = np.where(share > 0, weight[at] * share, weights[lane, at])
    seen = weights > 0
    y = np.log(np.where(seen, ratio, 1.0).clip(0.1, 10.0))
    return Rows(x=believed.x, z=believed.z, y=y, weight=weights)


def _field_rows(legs: Legs) -> Array:
    rows = np.zeros((len(legs.amount), FIELD_BASE + legs.stations))
    rows[:, 0] = 1.0
    rows[:, 1] = legs.progress
    for place, bend in enumerate(BENDS, start=2):
        rows[:, place] = np.maximum(legs.progress - bend, 0.0)
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


def _lane_belief(legs: Legs, prior: Prior, history: Sequence[History | None]) -> tuple[Array, Array]:
    """Variances and means (L, p) of each lane's effects, before a setting widens them."""
    spread = [prior.entry_sd, prior.entry_slope_sd, *[prior.step_sd] * len(KNOTS)]
    spread += [prior.strength_sd] * len(_strengths(legs))
    variance = np.tile(np.square(spread), (len(history), 1))
    mean = np.zeros((len(history), len(spread)))
    for lane, known in enumerate(history):
        if known is not None:
            variance[lane, 0] = max(known.sd, 0.01) ** 2
            mean[lane, 0] = known.log_pace
    return variance, mean
