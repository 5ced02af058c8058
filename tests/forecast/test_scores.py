"""Scores, baselines and generators: what the calibration rests on."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from core.samples import workout
from forecast.baselines import constant_pace, last_round_pace, with_error
from forecast.generators import GENERATORS, MadeHeat, make_heat
from forecast.scores import crps, crps_normal, interval_score, log_loss, share_error
from forecast.trial import moments, scene_at, true_places
from tallywire.core.gaps.gaps import work_ms
from tallywire.core.model.workout import Plan

PLAN = Plan(workout(), laps=1)


def test_crps_of_the_normal_distribution() -> None:
    """N(0, 1) scores 0.2336949773 at 0 and 0.6024413576 at 1 (values by properscoring and scoringrules)."""
    assert crps_normal(0, 1, 0) == pytest.approx(0.2336949773, abs=1e-10)
    assert crps_normal(0, 1, 1) == pytest.approx(0.6024413576, abs=1e-10)


def test_crps_of_an_ensemble() -> None:
    """1 … 5 at 3 scores 0.4 (scoringrules); a single number scores its absolute error; many draws score the law's."""
    assert crps(np.array([1.0, 2, 3, 4, 5]), 3) == pytest.approx(0.4)
    assert crps(np.array([7.0]), 3) == 4
    drawn = np.random.default_rng(1).standard_normal(200_000)
    assert crps(drawn, 1) == pytest.approx(crps_normal(0, 1, 1), abs=0.003)


def test_interval_score() -> None:
    """The 80 % interval 5 … 10 scores 25 at 12 and its width inside (values by scoringrules)."""
    assert interval_score(5, 10, 12, 0.2) == pytest.approx(25.0)
    assert interval_score(5, 10, 7, 0.2) == 5


def test_log_loss_stays_finite() -> None:
    """A place never drawn costs much but not everything; certainty that comes true costs almost nothing."""
    assert 7 < log_loss(0.0, 1000, 10) < 8
    assert 0 < log_loss(1.0, 1000, 10) < 0.005


def test_baselines_by_hand() -> None:
    """Two rounds in 120 and 150 s of five expected 120 s each: 675 s at the mean pace, 720 s at that of the last."""
    trail = [(120_000, 61), (270_000, 122)]
    assert constant_pace(PLAN, trail, 270_000) == pytest.approx(675_000)
    assert last_round_pace(PLAN, trail, 270_000) == pytest.approx(720_000)
    assert constant_pace(PLAN, [], 5000) == last_round_pace(PLAN, [], 5000) == 600_000
    assert last_round_pace(PLAN, trail[:1], 130_000) == constant_pace(PLAN, trail[:1], 130_000) == 600_000


def test_a_baselines_error_is_a_share_of_the_time_left() -> None:
    """Draws around 600 s at 100 s with 20 % error have a standard deviation of 100 s and never lie in the past."""
    drawn = with_error(600_000, 100_000, 0.2, np.random.default_rng(1), 20_000)
    assert drawn.std() == pytest.approx(100_000, rel=0.03)
    assert with_error(101_000, 100_000, 3.0, np.random.default_rng(1), 1000).min() == 100_000


@pytest.mark.parametrize("kind", sorted(GENERATORS))
def test_made_heats_are_whole(kind: str) -> None:
    """Trails rise in time and count, finish with all the work unless the entry withdraws, and repeat by seed."""
    for seed in range(12):
        heat = make_heat(kind, seed)
        assert make_heat(kind, seed).trails == heat.trails
        for trail, finish in zip(heat.trails, heat.finish_ms, strict=True):
            assert [done for _, done in trail] == sorted({done for _, done in trail})
            assert [at_ms for at_ms, _ in trail] == sorted(at_ms for at_ms, _ in trail)
            if np.isfinite(finish):
                assert trail[-1] == (finish, heat.plan.total_done)


def last_fifth(heat: MadeHeat) -> list[float]:
    """How much longer than the first fifth of the work the last one took, for every finisher."""
    whole = work_ms(heat.plan, heat.plan.total_done or 0)
    found = []
    for trail, finish in zip(heat.trails, heat.finish_ms, strict=True):
        if np.isfinite(finish):
            work = [work_ms(heat.plan, done) / whole for _, done in trail]
            first, last = np.interp([0.2, 0.8], [0.0, *work], [0.0, *(float(at_ms) for at_ms, _ in trail)])
            found.append(float((finish - last) / first))
    return found


def test_generators_fade_as_people_do() -> None:
    """The median last fifth is level in steady heats and 10–35 % slower in the others, with a tail of breakdowns.

    Common practice, no source: last rounds run 5–25 % slower than the first for most, flat for the best.
    """
    slower = {kind: np.concatenate([last_fifth(make_heat(kind, seed)) for seed in range(40)]) for kind in GENERATORS}
    assert 0.92 < np.median(slower["steady"]) < 1.10
    assert 1.10 < np.median(slower["fade"]) < 1.35
    assert 1.10 < np.median(slower["storms"]) < 1.35
    assert np.quantile(slower["fade"], 0.97) > 1.6


def test_nothing_later_is_seen() -> None:
    """A scene at a moment holds no fact and no finish after it, and the leader has done the part asked for."""
    heat = make_heat("fade", 3)
    whole = work_ms(heat.plan, heat.plan.total_done or 0)
    for part, now_ms in moments(heat):
        asked = scene_at(heat, now_ms)
        assert all(at_ms <= now_ms for runner in asked.runners for at_ms, _ in runner.trail)
        done = [work_ms(heat.plan, runner.trail[-1][1]) for runner in asked.runners if runner.trail]
        assert max(done) >= part * whole
    assert sorted(true_places(heat))[0] == 1


@pytest.mark.parametrize(("count", "region"), [(200, (171, 188)), (1000, (881, 918))])
def test_two_standard_errors_are_the_accepted_region_of_a_binomial_share(count: int, region: tuple[int, int]) -> None:
    """Of 200 and 1,000 cases at 90 % the 95 % region is 171-188 and 881-918; two standard errors reach as far, to one.

    Source: the binomial distribution, computed apart from the project, and again by SciPy; the exact bounds for a share
    that was seen (Clopper and Pearson 1934) and those of Wilson (1927) hold the share, too, wherever the region does.
    """
    reach = 2 * count * share_error(0.9, count)
    assert region == pytest.approx((0.9 * count - reach, 0.9 * count + reach), abs=1)
    assert region == tuple(int(end) for end in binom.interval(0.95, count, 0.9))
    for method in ("exact", "wilson"):
        for seen in (region[0] + 1, region[1] - 1, region[0] - 3, region[1] + 3):
            found = binomtest(seen, count).proportion_ci(0.95, method=method)
            assert bool(found.low <= 0.9 <= found.high) is (region[0] < seen < region[1]), (method, seen)
