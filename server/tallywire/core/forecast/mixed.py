"""A linear model with effects of the field and of each lane, and one unknown noise: the normal–inverse-gamma family.

    y = X β + Z u + ε,   β ~ N(b, σ² Λ⁻¹),   u of each lane ~ N(m, σ² D⁻¹),   ε ~ N(0, σ² / w),   σ² ~ IG(a, rate)

The posterior is exact (Murphy 2007, "Conjugate Bayesian analysis of the Gaussian distribution"; from memory). Lanes
are independent given the field, so each lane is solved in its own small system and only the field is solved jointly
(a Schur complement). Shapes: L lanes, n rows a lane (weight 0 pads), g field effects, p lane effects.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    y = rows.y - (rows.z @ lane_mean[..., None])[..., 0]
    zw = np.swapaxes(rows.z * rows.weight[..., None], 1, 2)
    xw = np.swapaxes(rows.x * rows.weight[..., None], 1, 2)
    lane_side, field_side = (zw @ y[..., None])[..., 0], (xw @ y[..., None])[..., 0].sum(axis=0)
    spread = np.asarray(np.linalg.inv(zw @ rows.z + lane_precision), dtype=np.float64)
    cross = zw @ rows.x
    pull = spread @ cross
    precision = (xw @ rows.x).sum(axis=0) + field.precision - (np.swapaxes(cross, 1, 2) @ pull).sum(axis=0)
    right = field_side + field.precision @ field.mean
    field_spread = np.linalg.inv(precision)
    beta = field_spread @ (right - np.einsum("lpg,lp->g", pull, lane_side))
    shift = (spread @ lane_side[..., None])[..., 0] - pull @ beta
    left_over = float((rows.weight * y * y).sum() + field.mean @ field.precision @ field.mean)
    left_over -= float(right @ beta + (lane_side * shift).sum())
    learned = Belief(
        mean=beta,
        precision=precision,
        shape=field.shape + float((rows.weight > 0).sum()) / 2,
        rate=field.rate + max(0.0, left_over) / 2,
    )
    return Fit(field=learned, field_spread=field_spread, mean=lane_mean + shift, spread=spread, pull=pull)


def predict(learned: Fit, x: Array, z: Array) -> Prediction:
    """Predict combinations x β + z u of each lane: `x` (L, k, g), `z` (L, k, p) give arrays (L, k) and (L, k, g)."""
    own = np.einsum("lkp,lkp->lk", z @ learned.spread, z)
    mean = x @ learned.field.mean + np.einsum("lkp,lp->lk", z, learned.mean)
    return Prediction(mean=mean, own=own, loading=x - z @ learned.pull)
