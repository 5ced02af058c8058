"""The forecast's algebra against closed forms and reference libraries."""

from __future__ import annotations

import numpy as np
import pytest

from tallywire.core.forecast.mixed import Array, Belief, Fit, Rows, fit, predict

# R's data set `cars` (Ezekiel 1930): speed in mph, stopping distance in ft. Typed from memory; the test checks the
# fit against the published coefficients.
SPEED = [4, 4, 7, 7, 8, 9, 10, 10, 10, 11, 11, *[12] * 4, *[13] * 4, *[14] * 4, *[15] * 3, 16, 16, *[17] * 3]
SPEED += [*[18] * 4, *[19] * 3, *[20] * 5, 22, 23, *[24] * 4, 25]
DIST = [2, 10, 4, 22, 16, 10, 18, 26, 34, 17, 28, 14, 20, 24, 28, 26, 34, 34, 46, 26, 36, 60, 80, 20, 26, 54, 32, 40]
DIST += [32, 40, 50, 42, 56, 76, 84, 36, 46, 68, 32, 48, 52, 56, 64, 66, 54, 70, 92, 93, 120, 85]

# NIST Statistical Reference Datasets, Longley: employment and six series that are nearly collinear. Typed from memory;
# the test checks the fit against the certified values.
# Columns: prices, product, unemployed, armed forces, population, year; and the employed.
LONGLEY = """
83.0 234289 2356 1590 107608 1947 60323
88.5 259426 2325 1456 108632 1948 61122
88.2 258054 3682 1616 109773 1949 60171
89.5 284599 3351 1650 110929 1950 61187
96.2 328975 2099 3099 112075 1951 63221
98.1 346999 1932 3594 113270 1952 63639
99.0 365385 1870 3547 115094 1953 64989
100.0 363112 3578 3350 116219 1954 63761
101.2 397469 2904 3048 117388 1955 66019
104.6 419180 2822 2857 118734 1956 67857
108.4 442769 2936 2798 120445 1957 68169
110.8 444546 4681 2637 121950 1958 66513
112.6 482704 3813 2552 123366 1959 68655
114.2 502601 3931 2514 125368 1960 69564
115.7 518173 4806 2572 127852 1961 69331
116.9 554894 4007 2827 130081 1962 70551
"""

NOBODY = np.zeros(0)


def plain(x: Array, y: Array, prior: Belief) -> Fit:
    """Fit one lane without effects of its own: ordinary conjugate regression."""
    n = len(y)
    rows = Rows(x=x[None], z=np.zeros((1, n, 0)), y=y[None], weight=np.ones((1, n)))
    return fit(rows, prior, np.zeros((1, 0, 0)), np.zeros((1, 0)))


def interval(learned: Fit, x: Array, *, level: float) -> tuple[float, float]:
    """The central interval for one new observation: the predictive is Student's t with 2 · shape degrees of freedom."""
    from scipy import stats  # takes a second to import

    seen = predict(learned, x[None, None], NOBODY[None, None])
    loading = seen.loading[0, 0]
    variance = seen.own[0, 0] + loading @ learned.field_spread @ loading + 1
    reach = stats.t.ppf((1 + level) / 2, 2 * learned.field.shape) * learned.field.noise * np.sqrt(variance)
    return float(seen.mean[0, 0] - reach), float(seen.mean[0, 0] + reach)


@pytest.mark.slow
def test_normal_inverse_gamma_predictive() -> None:
    """Four data under a conjugate prior (Murphy 2007, from memory): t with df 10, scale 2.142169, 80 and 95 %."""
    prior = Belief(mean=np.array([33.0]), precision=np.array([[2.0]]), shape=3, rate=12)
    learned = plain(np.ones((4, 1)), np.array([30.0, 32, 31, 35]), prior)
    assert learned.field.mean[0] == pytest.approx(32.3333, abs=5e-5)
    assert learned.field.precision[0, 0] == pytest.approx(6)
    assert learned.field.shape == 5
    assert learned.field.rate == pytest.approx(19.66667, abs=5e-6)
    assert learned.field.noise * np.sqrt(1 + 1 / 6) == pytest.approx(2.142169, abs=5e-7)
    row = np.ones(1)
    assert interval(learned, row, level=0.8) == pytest.approx((29.393884, 35.272783), abs=1e-6)
    assert interval(learned, row, level=0.95) == pytest.approx((27.560283, 37.106384), abs=1e-6)


@pytest.mark.slow
def test_flat_prior_gives_the_least_squares_prediction_interval() -> None:
    """R `cars`: coefficients, s, and the 95 % prediction interval at speed 10 (values by statsmodels)."""
    x = np.column_stack([np.ones(50), np.array(SPEED, dtype=float)])
    flat = Belief(mean=np.zeros(2), precision=np.zeros((2, 2)), shape=-1.0, rate=0.0)
    learned = plain(x, np.array(DIST, dtype=float), flat)
    assert learned.field.mean == pytest.approx([-17.57909489, 3.93240876], abs=1e-7)
    assert learned.field.noise == pytest.approx(15.37958675, abs=1e-7)
    low, high = interval(learned, np.array([1.0, 10.0]), level=0.95)
    assert (low, high) == pytest.approx((-9.809601, 53.299586), abs=1e-5)
    assert (low + high) / 2 == pytest.approx(21.744993, abs=1e-5)


@pytest.mark.slow
def test_nearly_collinear_columns_keep_their_digits() -> None:
    """Longley, the columns centred on their means as the model's are near zero: b1 and s to six digits.

    Source: NIST StRD, Longley: b1 15.0618722714, s 304.854073562.
    """
    table = np.array(LONGLEY.split(), dtype=float).reshape(16, 7)
    columns, employed = table[:, :6], table[:, 6]
    x = np.column_stack([np.ones(16), columns - columns.mean(axis=0)])
    flat = Belief(mean=np.zeros(7), precision=np.zeros((7, 7)), shape=-3.5, rate=0.0)
    learned = plain(x, employed, flat)
    assert learned.field.mean[1] == pytest.approx(15.0618722714, rel=1e-6)
    assert learned.field.noise == pytest.approx(304.854073562, rel=1e-6)


def mixed_problem(seed: int) -> tuple[Rows, Belief, Array, Array]:
    """A random problem: 3 lanes, 6 rows (some padded), 2 field and 2 lane effects."""
    rng = np.random.default_rng(seed)
    weight = rng.uniform(0.5, 2, (3, 6)) * (rng.uniform(size=(3, 6)) > 0.2)
    rows = Rows(x=rng.normal(size=(3, 6, 2)), z=rng.normal(size=(3, 6, 2)), y=rng.normal(size=(3, 6)), weight=weight)
    field = Belief(mean=np.array([0.3, -1.0]), precision=np.diag([2.0, 3.0]), shape=3, rate=2)
    return rows, field, np.broadcast_to(np.diag([4.0, 5.0]), (3, 2, 2)), rng.normal(size=(3, 2))


@pytest.mark.parametrize("seed", range(5))
def test_lane_by_lane_equals_one_large_system(seed: int) -> None:
    """Solving lane by lane gives the mean, covariance and noise of the one dense system over all effects."""
    rows, field, lane_precision, lane_mean = mixed_problem(seed)
    learned = fit(rows, field, lane_precision, lane_mean)
    dense = np.zeros((18, 8))
    dense[:, :2] = rows.x.reshape(18, 2)
    for lane in range(3):
        dense[6 * lane : 6 * lane + 6, 2 + 2 * lane : 4 + 2 * lane] = rows.z[lane]
    start = np.concatenate([field.mean, lane_mean.ravel()])
    before = np.diag([2.0, 3.0, *[4.0, 5.0] * 3])
    weight = np.diag(rows.weight.ravel())
    precision = dense.T @ weight @ dense + before
    covariance = np.linalg.inv(precision)
    mean = covariance @ (dense.T @ weight @ rows.y.ravel() + before @ start)
    off, moved = rows.y.ravel() - dense @ mean, mean - start
    rate = field.rate + (off @ weight @ off + moved @ before @ moved) / 2
    assert np.concatenate([learned.field.mean, learned.mean.ravel()]) == pytest.approx(mean)
    assert learned.field.rate == pytest.approx(rate)
    assert learned.field.shape == 3 + np.count_nonzero(rows.weight) / 2
    rng = np.random.default_rng(seed)
    x, z = rng.normal(size=(3, 1, 2)), rng.normal(size=(3, 1, 2))
    seen = predict(learned, x, z)
    for lane in range(3):
        whole = np.zeros(8)
        whole[:2], whole[2 + 2 * lane : 4 + 2 * lane] = x[lane, 0], z[lane, 0]
        load = seen.loading[lane, 0]
        assert seen.mean[lane, 0] == pytest.approx(whole @ mean)
        assert seen.own[lane, 0] + load @ learned.field_spread @ load == pytest.approx(whole @ covariance @ whole)
