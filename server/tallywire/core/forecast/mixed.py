"""A linear model with effects of the field and of each lane, and one unknown noise: the normal–inverse-gamma family.

    y = X β + Z u + ε,   β ~ N(b, σ² Λ⁻¹),   u of each lane ~ N(m, σ² D⁻¹),   ε ~ N(0, σ² / w),   σ² ~ IG(a, rate)

The posterior is exact (Murphy 2007, "Conjugate Bayesian analysis of the Gaussian distribution"; from memory). Lanes
are independent given the field, so each lane is solved in its own small system and only the field is solved jointly
(a Schur complement). Shapes: L lanes, n rows a lane (weight 0 pads), g field effects, p lane effects.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import lgamma, log

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """What is believed of the field: `mean` (g), `precision` (g, g) in units of 1 / σ², and σ² ~ IG(shape, rate)."""

    mean: Array
    precision: Array
    shape: float
    rate: float

    @property
    def noise(self) -> float:
        """The typical σ: the square root of rate / shape."""
        return float(np.sqrt(self.rate / self.shape))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Observations: `x` (L, n, g), `z` (L, n, p), `y` and `weight` (L, n)."""

    x: Array
    z: Array
    y: Array
    weight: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The posterior. `field` is the belief about β; of each lane `mean` (L, p), `spread` (L, p, p) = A⁻¹ given β,
    and `pull` (L, p, g), how an error in β moves it. `field_spread` (g, g) is the inverse of the field's precision.
    """

    field: Belief
    field_spread: Array
    mean: Array
    spread: Array
    pull: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """Linear combinations of the effects: `mean` (…), `own` (…), the variance of the lane's own part over σ², and
    `loading` (…, g), the weight on the field's shared error. Total variance over σ²: own + loading S loading'.
    """

    mean: Array
    own: Array
    loading: Array


def fit(rows: Rows, field: Belief, lane_precision: Array, lane_mean: Array) -> Fit:
    """Learn from rows. `lane_precision` (L, p, p) and `lane_mean` (L, p) are what is believed of each lane.

    Raises numpy.linalg.LinAlgError when neither prior nor rows say anything about some effect.
    """
    return fit_each(rows, [field], lane_precision[None], lane_mean)[0]


def fit_each(rows: Rows, fields: Sequence[Belief], lane_precision: Array, lane_mean: Array) -> list[Fit]:
    """Learn from the same rows under each of C beliefs, which share their mean; `lane_precision` is (C, L, p, p)."""
    y = rows.y - (rows.z @ lane_mean[..., None])[..., 0]
    zw = np.swapaxes(rows.z * rows.weight[..., None], 1, 2)
    xw = np.swapaxes(rows.x * rows.weight[..., None], 1, 2)
    lane_side, field_side = (zw @ y[..., None])[..., 0], (xw @ y[..., None])[..., 0].sum(axis=0)
    before, mean = np.array([each.precision for each in fields]), fields[0].mean
    spread = np.asarray(np.linalg.inv(zw @ rows.z + lane_precision), dtype=np.float64)
    cross = zw @ rows.x
    pull = spread @ cross
    precision = (xw @ rows.x).sum(axis=0) + before - (np.swapaxes(cross, 1, 2) @ pull).sum(axis=1)
    right = field_side + before @ mean
    field_spread = np.linalg.inv(precision)
    taken = (np.swapaxes(pull, 2, 3) @ lane_side[..., None]).sum(axis=1)
    beta = (field_spread @ (right[..., None] - taken))[..., 0]
    shift = (spread @ lane_side[..., None] - pull @ beta[:, None, :, None])[..., 0]
    left_over = float((rows.weight * y * y).sum()) + before @ mean @ mean
    left_over -= (right * beta).sum(axis=1) + (lane_side * shift).sum(axis=(1, 2))
    seen = float((rows.weight > 0).sum()) / 2
    return [
        Fit(
            field=Belief(
                mean=beta[n],
                precision=precision[n],
                shape=each.shape + seen,
                rate=each.rate + max(0.0, float(left_over[n])) / 2,
            ),
            field_spread=field_spread[n],
            mean=lane_mean + shift[n],
            spread=spread[n],
            pull=pull[n],
        )
        for n, each in enumerate(fields)
    ]


def evidence(fits: Sequence[Fit], fields: Sequence[Belief], lane_precision: Array) -> Array:
    """How well each belief foretold the rows (C): the log of their marginal density, up to what all beliefs share.

    `lane_precision` (C, L, p, p) is diagonal here.
    """
    size = _log_det([each.precision for each in fields]) - _log_det([each.field.precision for each in fits])
    size += _log_det([each.spread for each in fits]).sum(axis=1)
    size += np.log(np.diagonal(lane_precision, axis1=2, axis2=3)).sum(axis=(1, 2))
    size /= 2
    size += [_log_noise(*each) for each in zip(fields, fits, strict=True)]
    return size


def _log_det(matrices: Sequence[Array]) -> Array:
    return np.asarray(np.linalg.slogdet(np.array(matrices))[1])


def _log_noise(before: Belief, found: Fit) -> float:
    after = found.field
    gained = lgamma(after.shape) - lgamma(before.shape)
    return gained + before.shape * log(before.rate) - after.shape * log(after.rate)


def predict(learned: Fit, x: Array, z: Array) -> Prediction:
    """Predict combinations x β + z u of each lane: `x` (L, k, g), `z` (L, k, p) give arrays (L, k) and (L, k, g)."""
    own = np.einsum("lkp,lkp->lk", z @ learned.spread, z)
    mean = x @ learned.field.mean + np.einsum("lkp,lp->lk", z, learned.mean)
    return Prediction(mean=mean, own=own, loading=x - z @ learned.pull)
