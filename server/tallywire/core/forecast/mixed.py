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
from typing import Any

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
class Beliefs:
    """C beliefs about the field that share their `mean` (g) and `shape` and differ in `precision` (C, g, g) and `rate`
    (C). `side` (C, g) is the precision times the mean, `size` (C) the log of the precision's determinant."""

    mean: Array
    precision: Array
    shape: float
    rate: Array
    side: Array
    size: Array

    @classmethod
    def of(cls, mean: Array, precision: Array, shape: float, rate: Array) -> Beliefs:
        """Give the beliefs with these means, precisions, shapes and rates."""
        side = precision @ mean
        return cls(mean=mean, precision=precision, shape=shape, rate=rate, side=side, size=_log_det(precision))


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
class LaneBelief:
    """What each of C settings says of every lane before it has done anything: `precision` (C, L, p, p), diagonal, and
    `mean` (L, p), which they share. `size` (C) is the log of the determinant of all precisions together."""

    precision: Array
    mean: Array
    size: Array

    @classmethod
    def of(cls, precision: Array, mean: Array) -> LaneBelief:
        """Give the belief with these precisions and means."""
        return cls(
            precision=precision,
            mean=mean,
            size=np.log(np.diagonal(precision, axis1=2, axis2=3)).sum(axis=(1, 2)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneParts:
    """What the rows of each lane by themselves say, under each of C settings; see `fit_each`.

    They were worked out from `rows` and a `belief`. `cross` (L, p, g), `side` (L, p), `field_side` (L, g) and `seen`
    (L, g, g) do not depend on the setting; `spread` (C, L, p, p), `size` (C, L), `pull` (C, L, p, g), the lane's shift
    where the field has none, `alone` (C, L, p), and what a lane takes from the field's precision, `taken` (C, L, g, g),
    and from its side, `taken_side` (C, L, g), do.
    """

    rows: Rows
    belief: LaneBelief
    y: Array
    cross: Array
    side: Array
    field_side: Array
    seen: Array
    spread: Array
    size: Array
    pull: Array
    alone: Array
    taken: Array
    taken_side: Array

    def is_of(self, rows: Rows, belief: LaneBelief) -> bool:
        """Tell whether rows under a belief differ from these at most in what was seen of the lanes."""
        return self.belief is belief and self.rows.x is rows.x and self.rows.z is rows.z


@dataclass(frozen=True, slots=True, kw_only=True)
class Fits:
    """The posteriors of the same rows under C beliefs about the field: `mean` (C, g), `precision` (C, g, g) and its
    inverse `field_spread`, `shape` and `rate` (C) are what is believed of the field, `shift` (C, L, p) says how far the
    effects of the `lanes` are from their means."""

    lanes: LaneParts
    mean: Array
    precision: Array
    shape: float
    rate: Array
    field_spread: Array
    shift: Array

    def one(self, n: int) -> Fit:
        """Give one of them."""
        return Fit(
            field=Belief(mean=self.mean[n], precision=self.precision[n], shape=self.shape, rate=float(self.rate[n])),
            field_spread=self.field_spread[n],
            mean=self.lanes.belief.mean + self.shift[n],
            spread=self.lanes.spread[n],
            pull=self.lanes.pull[n],
        )


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
    belief = LaneBelief(precision=lane_precision[None], mean=lane_mean, size=np.zeros(1))
    fields = Beliefs.of(field.mean, field.precision[None], field.shape, np.array([field.rate]))
    return fit_each(lane_parts(rows, belief), fields).one(0)


def lane_parts(rows: Rows, belief: LaneBelief, before: LaneParts | None = None) -> LaneParts:
    """Work out what each lane says; of the lanes of which nothing else was seen `before`, it is taken from there."""
    if before is None or not before.is_of(rows, belief):
        return _parts(rows, belief)
    same = (before.rows.y == rows.y) & (before.rows.weight == rows.weight)
    new = np.flatnonzero(~same.all(axis=1))
    if not len(new):
        return before
    mine = Rows(x=rows.x[new], z=rows.z[new], y=rows.y[new], weight=rows.weight[new])
    asked = LaneBelief(precision=belief.precision[:, new], mean=belief.mean[new], size=belief.size)
    found = _parts(mine, asked)
    of_lanes = with_new(before, found, _OF_LANES, new)
    of_settings = with_new(before, found, _OF_SETTINGS, (slice(None), new))
    return LaneParts(rows=rows, belief=belief, **of_lanes, **of_settings)


_OF_LANES = ("y", "cross", "side", "field_side", "seen")
_OF_SETTINGS = ("spread", "size", "pull", "alone", "taken", "taken_side")


def with_new(before: object, found: object, names: Sequence[str], at: Any) -> dict[str, Any]:
    """Give copies of the arrays that `before` has under these names, with those of `found` at the indexes `at`."""
    arrays: dict[str, Any] = {name: getattr(before, name).copy() for name in names}
    for name, array in arrays.items():
        array[at] = getattr(found, name)
    return arrays


def _parts(rows: Rows, belief: LaneBelief) -> LaneParts:
    y = rows.y - (rows.z @ belief.mean[..., None])[..., 0]
    zw = np.swapaxes(rows.z * rows.weight[..., None], 1, 2)
    xw = np.swapaxes(rows.x * rows.weight[..., None], 1, 2)
    side = (zw @ y[..., None])[..., 0]
    spread = np.asarray(np.linalg.inv(zw @ rows.z + belief.precision), dtype=np.float64)
    cross = zw @ rows.x
    pull = spread @ cross
    return LaneParts(
        rows=rows,
        belief=belief,
        y=y,
        cross=cross,
        side=side,
        field_side=(xw @ y[..., None])[..., 0],
        seen=xw @ rows.x,
        spread=spread,
        size=_log_det(spread),
        pull=pull,
        alone=(spread @ side[..., None])[..., 0],
        taken=np.swapaxes(cross, 1, 2) @ pull,
        taken_side=(np.swapaxes(pull, 2, 3) @ side[..., None])[..., 0],
    )


def fit_each(lanes: LaneParts, fields: Beliefs) -> Fits:
    """Learn from the same rows under each of the beliefs about the field."""
    weight, y = lanes.rows.weight, lanes.y
    precision = lanes.seen.sum(axis=0) + fields.precision - lanes.taken.sum(axis=1)
    right = lanes.field_side.sum(axis=0) + fields.side
    field_spread = np.linalg.inv(precision)
    beta = (field_spread @ (right - lanes.taken_side.sum(axis=1))[..., None])[..., 0]
    shift = lanes.alone - (lanes.pull @ beta[:, None, :, None])[..., 0]
    left_over = float((weight * y * y).sum()) + fields.side @ fields.mean
    left_over -= (right * beta).sum(axis=1) + (lanes.side * shift).sum(axis=(1, 2))
    return Fits(
        lanes=lanes,
        mean=beta,
        precision=precision,
        shape=fields.shape + float(np.count_nonzero(weight)) / 2,
        rate=fields.rate + np.maximum(left_over, 0.0) / 2,
        field_spread=field_spread,
        shift=shift,
    )


def evidence(fits: Fits, fields: Beliefs) -> Array:
    """How well each belief foretold the rows (C): the log of their marginal density, up to what all beliefs share."""
    size = fields.size - _log_det(fits.precision)
    size += fits.lanes.size.sum(axis=1)
    size += fits.lanes.belief.size
    size /= 2
    gained = lgamma(fits.shape) - lgamma(fields.shape)
    rates = zip(fields.rate.tolist(), fits.rate.tolist(), strict=True)
    size += [gained + fields.shape * log(before) - fits.shape * log(after) for before, after in rates]
    return size


def _log_det(matrices: Array) -> Array:
    return np.asarray(np.linalg.slogdet(matrices)[1])


def predict(learned: Fit, x: Array, z: Array) -> Prediction:
    """Predict combinations x β + z u of each lane: `x` (L, k, g), `z` (L, k, p) give arrays (L, k) and (L, k, g)."""
    own = np.einsum("lkp,lkp->lk", z @ learned.spread, z)
    mean = x @ learned.field.mean + np.einsum("lkp,lp->lk", z, learned.mean)
    return Prediction(mean=mean, own=own, loading=x - z @ learned.pull)
