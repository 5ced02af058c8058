"""The pieces still to come of intervals: each lane's rate, pooled over the field, with a fade from piece to piece.

The log of a piece's result (its time, or its scored reps) is the field's level and slope, the lane's own level and
noise: the same normal-inverse-gamma family as for stations (`mixed`). L lanes, P pieces, N draws.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tallywire.core.fold.heat import LaneState
from tallywire.core.forecast.draws import Singles
from tallywire.core.forecast.ends import Ends
from tallywire.core.forecast.format_forecast import KeyedForecast
from tallywire.core.forecast.mixed import Array, Belief, Rows, fit, predict
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.gaps.gaps import work_ms
from tallywire.core.model.workout import Plan
from tallywire.formats.intervals.rules import Counts, IntervalRules, rules_of
from tallywire.formats.intervals.tally import pieces_of

LEVEL_SD, FADE, FADE_SD, ENTRY_SD, NOISE_SD, NOISE_SHAPE = 0.25, 0.03, 0.03, 0.12, 0.07, 4.0
"""Each piece is about three per cent slower than the one before (judged from practice, no source)."""
LEAST_SHARE = 0.1
MISSING, SCORED = 1e12, 1e7
"""What an incomplete timed piece and a scored rep weigh in a sort key, beside milliseconds."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """One piece of one lane: the share of the window that is over, scored reps and the share of the work done, and
    the time of the finish in the window."""

    passed: float
    reps: int
    share: float
    finish_ms: float | None


class IntervalForecast(KeyedForecast):
    """Pieces still to come."""

    def play(self, scene: Scene, *, seed: int, draws: int) -> Ends:
        """Play the pieces that are left, and what is left of the one in hand.

        `total_ms` is what counts of timed pieces, infinite where one is not complete.
        """
        return _play(scene, seed=seed, draws=draws)

    def key_now(self, _plan: Plan, lane: LaneState) -> float:
        """Give the time or the reps that count; where timed pieces are missing, what stands for them."""
        key = lane.outcome.key
        return timed_key(key[1], -key[2], key[3]) if len(key) > 2 else float(key[1])


FACET = IntervalForecast()


def _play(scene: Scene, *, seed: int, draws: int) -> Ends:
    rules = rules_of(scene.plan.workout)
    rng = np.random.Generator(np.random.SFC64(seed))
    pieces = [[_piece(scene, rules, runner, n) for n in range(rules.pieces)] for runner in scene.runners]
    drawn = _results(scene, rules, pieces, rng, draws)
    out = [runner.out for runner in scene.runners]
    keys, worked = (_timed if rules.timed else _counted)(scene, rules, pieces, drawn)
    if not rules.timed:
        reps = np.negative(keys).astype(np.float32)
        keys[out] = np.inf
        return Ends(keys=keys, scored_reps=reps, worked=worked)
    keys += np.array([runner.penalty_ms for runner in scene.runners])[:, None]
    keys[out] = np.inf
    # What is missing lifts a key over every time.
    own = {"total_ms": np.where(keys < MISSING / 2, keys, np.inf).astype(np.float32)}
    return Ends(keys=keys, worked=worked, own=own)


def timed_key(missing: int, scored: float, total_ms: float) -> float:
    """The sort key of timed pieces as one number, as they are ranked."""
    return total_ms + (missing * MISSING - scored * SCORED if missing else 0.0)


def _piece(scene: Scene, rules: IntervalRules, runner: Runner, number: int) -> _Piece:
    begin = number * (rules.work_ms + rules.rest_ms)
    trail = pieces_of(runner.tally)[number].trail if number < len(pieces_of(runner.tally)) else []
    done = trail[-1][1] if trail else 0
    total = scene.plan.total_done
    end_ms = min(scene.now_ms, scene.ends_ms)
    passed = 1.0 if scene.now_ms >= scene.ends_ms else min(1.0, max(0.0, (end_ms - begin) / rules.work_ms))
    whole_ms = max(1, work_ms(scene.plan, total)) if total is not None else rules.work_ms
    return _Piece(
        passed=passed,
        reps=scene.plan.scored(done),
        share=work_ms(scene.plan, done) / whole_ms,
        finish_ms=float(trail[-1][0] - begin) if total is not None and done >= total else None,
    )


def _results(
    scene: Scene, rules: IntervalRules, pieces: Sequence[Sequence[_Piece]], rng: np.random.Generator, draws: int
) -> Array:
    """What each piece would come to from its start to its end (L, P, N): ms, or scored reps in a whole window."""
    lanes, count = len(pieces), rules.pieces
    x: Array = np.ones((lanes, count, 2))
    x[..., 1] = np.arange(count)
    z = np.ones((lanes, count, 1))
    y, weight = _observed(rules, pieces)
    base = np.log(_expected(scene, rules))
    field = Belief(
        mean=np.array([base, FADE if rules.timed else -FADE]),
        precision=np.diag(NOISE_SD**2 / np.square([LEVEL_SD, FADE_SD])),
        shape=NOISE_SHAPE,
        rate=NOISE_SHAPE * NOISE_SD**2,
    )
    own = np.tile([[(NOISE_SD / ENTRY_SD) ** 2]], (lanes, 1, 1))
    learned = fit(Rows(x=x, z=z, y=y, weight=weight), field, own, np.zeros((lanes, 1)))
    seen = predict(learned, x, z)
    root = np.linalg.cholesky(learned.field_spread)
    shared = np.einsum("lkg,gn->lkn", seen.loading @ root, rng.standard_normal((2, draws)))
    lane = np.sqrt(seen.own)[..., None] * rng.standard_normal((lanes, 1, draws))
    noise = rng.standard_normal((lanes, count, draws))
    sigma = learned.field.noise * np.sqrt(learned.field.shape / rng.standard_gamma(learned.field.shape, draws))
    return np.asarray(np.exp(seen.mean[..., None] + sigma * (shared + lane + noise)))


def _observed(rules: IntervalRules, pieces: Sequence[Sequence[_Piece]]) -> tuple[Array, Array]:
    """The logs of what is known (L, P), and how much each says: a piece in hand as its part of a whole one."""
    y, weight = np.zeros((len(pieces), rules.pieces)), np.zeros((len(pieces), rules.pieces))
    for row, own in enumerate(pieces):
        for number, piece in enumerate(own):
            share = piece.share if rules.timed and piece.finish_ms is None else piece.passed
            if piece.finish_ms is not None:
                y[row, number], weight[row, number] = np.log(max(piece.finish_ms, 1.0)), 1.0
            elif share >= LEAST_SHARE and piece.passed > 0 and (piece.share > 0 if rules.timed else piece.reps > 0):
                # Work stamped at the very moment a window opens took no time yet, which says nothing of the rest.
                whole = piece.passed * rules.work_ms / piece.share if rules.timed else piece.reps / piece.passed
                y[row, number], weight[row, number] = np.log(whole), min(1.0, share)
    return y, weight


def _expected(scene: Scene, rules: IntervalRules) -> float:
    lap_ms = max(1, scene.plan.lap_expected_ms)
    scored = sum(leg.station.scored for leg in scene.plan.legs)
    return float(lap_ms) if rules.timed else max(0.5, rules.work_ms / lap_ms * scored)


def _chosen(values: Array, rules: IntervalRules, *, best: Callable[..., Array], worst: Callable[..., Array]) -> Array:
    """What counts of the pieces (L, N)."""
    if rules.counts is Counts.SUM:
        return np.asarray(values.sum(axis=1))
    return (best if rules.counts is Counts.BEST else worst)(values, axis=1)


def _counted(
    scene: Scene, rules: IntervalRules, pieces: Sequence[Sequence[_Piece]], drawn: Array
) -> tuple[Array, Singles]:
    """The keys of pieces for reps, and the scored reps of all of them (L, N)."""
    known = np.array([[piece.reps for piece in own] for own in pieces], dtype=np.float64)
    left = np.array([[1 - piece.passed for piece in own] for own in pieces])
    reps = known[..., None] + np.floor(left[..., None] * drawn + 0.5)
    chosen = _chosen(reps, rules, best=np.max, worst=np.min)
    return np.asarray(np.negative(np.maximum(chosen - _penalty_reps(scene), 0))), _worked(scene, reps)


def _timed(
    scene: Scene, rules: IntervalRules, pieces: Sequence[Sequence[_Piece]], drawn: Array
) -> tuple[Array, Singles]:
    """The keys of timed pieces, and the scored reps of all of them (L, N)."""
    times = np.empty_like(drawn)
    reps = np.empty_like(drawn)
    whole = float(scene.plan.total_scored or 0)
    for row, own in enumerate(pieces):
        for number, piece in enumerate(own):
            if piece.finish_ms is not None:
                times[row, number], reps[row, number] = piece.finish_ms, whole
                continue
            spent, left_ms = piece.passed * rules.work_ms, (1 - piece.passed) * rules.work_ms
            needed = (1 - piece.share) * drawn[row, number] if piece.passed < 1 else np.full(drawn.shape[2], np.inf)
            times[row, number] = spent + needed
            gained = np.floor((whole - piece.reps) * np.minimum(1, left_ms / needed))
            reps[row, number] = np.where(needed <= left_ms, whole, piece.reps + gained)
    open_ones = np.array([[piece.finish_ms is None for piece in own] for own in pieces])[..., None]
    missing = np.logical_and(times > rules.work_ms, open_ones)
    times = np.where(missing, rules.work_ms, times)
    chosen = _chosen(times, rules, best=np.min, worst=np.max)
    short = missing.sum(axis=1)
    worked = _worked(scene, reps)
    return np.asarray(chosen + np.where(short > 0, short * MISSING - worked * SCORED, 0.0)), worked


def _worked(scene: Scene, reps: Array) -> Singles:
    return np.asarray(np.maximum(reps.sum(axis=1) - _penalty_reps(scene), 0), dtype=np.float32)


def _penalty_reps(scene: Scene) -> Array:
    return np.array([[runner.penalty_reps] for runner in scene.runners])
