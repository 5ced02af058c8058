"""The bars still to come in a ladder: on which one a lane goes out. L lanes, K bars, N draws.

To miss a bar is a hazard that rises with the bars, pooled over the field, and moved for a lane by how much of its
windows it has needed. In the window that runs silence counts: the longer the bar is open, the likelier it is missed.
"""

from __future__ import annotations

import numpy as np

from tallywire.core.fold.heat import LaneState
from tallywire.core.forecast.draws import Singles, scored
from tallywire.core.forecast.ends import NOT_PASSED, Ends, as_part
from tallywire.core.forecast.format_forecast import KeyedForecast
from tallywire.core.forecast.legs import Legs, legs_of
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.scene import Runner, Scene, ScoredPart
from tallywire.core.formats.counting import done_at
from tallywire.core.model.workout import Plan
from tallywire.formats.ladder.rules import rules_of

FIRST_HAZARD, LAST_HAZARD = 0.03, 0.30
FIELD_WEIGHT = 6.0
LATE_ODDS = 4.0
LUCK_SD = 0.5
USUAL_SHARE = 0.5
SHARPNESS = 5.0
"""Three in a hundred miss the first bar, thirty the last; half a window is the usual time for a bar, log-logistic. A
tenth of a window more than the field multiplies the odds to miss by e^0.4 (judged from practice, no source)."""


class LadderForecast(KeyedForecast):
    """Bars still to come."""

    has_parts = True

    def play(self, scene: Scene, *, seed: int, draws: int) -> Ends:
        """Play the bars that are left."""
        return _play(scene, seed=seed, draws=draws)

    def key_now(self, plan: Plan, lane: LaneState) -> float:
        """Give the scored reps, with the tie-break time as a part of one."""
        _, scored, tie_break_ms = lane.outcome.key
        return float(scored if plan.workout.tie_break is None else scored + as_part(np.array(float(tie_break_ms))))


FACET = LadderForecast()


def _play(scene: Scene, *, seed: int, draws: int) -> Ends:
    rng = np.random.Generator(np.random.SFC64(seed))
    legs = legs_of(scene.plan)
    hazard = _hazards(scene, legs)
    units = np.zeros((len(scene.runners), draws), dtype=np.float64)
    for row, runner in enumerate(scene.runners):
        units[row] = _units(legs, _bars(legs, runner), _done(runner), hazard[row], rng, draws)
    reps = scored(legs, units)
    for row, runner in enumerate(scene.runners):
        reps[row] = np.maximum(reps[row] - runner.penalty_reps, 0)
    keys: Singles | Array = np.negative(reps)
    mark = scene.plan.workout.tie_break
    if mark is not None:
        keys = keys + as_part(_times_at(scene, legs, units, scene.plan.done_at(mark), rng))
    out = [runner.out for runner in scene.runners]
    keys[out] = np.inf
    part_keys = [_part_keys(scene, legs, part, (units, reps, keys), rng) for part in scene.parts]
    for found in part_keys:
        found[out] = np.inf
    return Ends(keys=keys, scored_reps=reps, part_keys=tuple(part_keys))


def _part_keys(
    scene: Scene, legs: Legs, part: ScoredPart, drawn: tuple[Array, Singles, Singles | Array], rng: np.random.Generator
) -> Singles | Array:
    """Sort keys of one of several scores (L, N), as `format_forecast` has them of other entries.

    `drawn` are units and scored reps at the end, and the keys of the whole result.
    """
    units, reps, keys = drawn
    if part.mark_units is not None:
        times = _times_at(scene, legs, units, part.mark_units, rng)
        times += np.array([runner.penalty_ms for runner in scene.runners])[:, None]
        return np.where(np.isfinite(times), times, NOT_PASSED - reps.astype(np.float64))
    if part.at_ms is None:
        return keys
    counted = scored(legs, _units_at(scene, legs, units, part.at_ms, rng))
    counted -= np.array([runner.penalty_reps for runner in scene.runners], dtype=np.float32)[:, None]
    return np.negative(np.maximum(counted, 0))


def _times_at(scene: Scene, legs: Legs, units: Array, wanted: int, rng: np.random.Generator) -> Array:
    """When the lanes have done so many units (L, N): known, or anywhere left of its bar's window; infinite if never."""
    window_ms = _window_ms(scene)
    bar = int(legs.done_after.searchsorted(wanted))
    begin_ms, end_ms = max(scene.now_ms, bar * window_ms), (bar + 1) * window_ms
    times = np.where(units >= wanted, begin_ms + max(0, end_ms - begin_ms) * rng.random(units.shape), np.inf)
    for row, runner in enumerate(scene.runners):
        passed = next((at_ms for at_ms, done in runner.trail if done >= wanted), None)
        if passed is not None:
            times[row] = passed
    return times


def _units_at(scene: Scene, legs: Legs, units: Array, at_ms: int, rng: np.random.Generator) -> Array:
    """Units done at a time on the clock (L, N): known if it has passed.

    What is left to do on the bar of that time is spread evenly from its window's start, or from now, to its end, which
    lies anywhere in what is left of the window.
    """
    if scene.now_ms >= at_ms:
        return np.array([np.full(units.shape[1], float(done_at(each.trail, at_ms))) for each in scene.runners])
    window_ms = _window_ms(scene)
    bar = min(at_ms // window_ms, len(legs.amount) - 1)
    begin_ms, end_ms = max(scene.now_ms, bar * window_ms), (bar + 1) * window_ms
    took_ms = np.maximum(1.0, (end_ms - begin_ms) * rng.random(units.shape))
    before = float(legs.done_after[bar] - legs.amount[bar])
    start = np.maximum(np.array([[float(_done(each))] for each in scene.runners]), before)
    gained = np.maximum(0.0, np.minimum(units, legs.done_after[bar]) - start)
    share = np.minimum(1.0, (at_ms - begin_ms) / took_ms)
    return np.asarray(np.minimum(units, start + np.floor(gained * share)))


def _done(runner: Runner) -> int:
    return runner.trail[-1][1] if runner.trail else 0


def _bars(legs: Legs, runner: Runner) -> int:
    """How many bars are complete."""
    return int(legs.done_after.searchsorted(_done(runner), side="right"))


def _window_ms(scene: Scene) -> int:
    return rules_of(scene.plan.workout).window_ms


def _hazards(scene: Scene, legs: Legs) -> Array:
    """The chance to miss each bar (L, K), if it is reached; 0 or 1 where it is known already."""
    count, window_ms = len(legs.amount), _window_ms(scene)
    bars = [_bars(legs, runner) for runner in scene.runners]
    out = [_is_out(scene, runner, done) for runner, done in zip(scene.runners, bars, strict=True)]
    made = np.array([sum(done > bar for done in bars) for bar in range(count)], dtype=np.float64)
    missed = np.array([sum(gone and done == bar for done, gone in zip(bars, out, strict=True)) for bar in range(count)])
    prior = FIRST_HAZARD + (LAST_HAZARD - FIRST_HAZARD) * (np.arange(1, count + 1) / count) ** 2
    harder = (missed.sum() + 2) / ((prior * (made + missed)).sum() + 2)
    prior = np.clip(prior * harder, 0.01, 0.9)
    field = (FIELD_WEIGHT * prior + missed) / (FIELD_WEIGHT + made + missed)
    shares = [_shares(legs, runner, window_ms) for runner in scene.runners]
    hazards = np.empty((len(bars), count))
    for row, runner in enumerate(scene.runners):
        odds = field / (1 - field) * np.exp(LATE_ODDS * _later_than_field(shares, row))
        hazards[row] = odds / (1 + odds)
        if bars[row] < count:
            now = _waiting(scene, legs, runner, hazards[row, bars[row]], bars[row])
            hazards[row, bars[row]] = 1.0 if out[row] else now
    return hazards


def _is_out(scene: Scene, runner: Runner, bars: int) -> bool:
    """Whether a window has closed on an open bar, or the heat has ended."""
    over = min(scene.now_ms, scene.ends_ms) >= scene.ends_ms
    return runner.out or over or scene.now_ms > (bars + 1) * _window_ms(scene)


def _shares(legs: Legs, runner: Runner, window_ms: int) -> list[float]:
    """The part of its window that each complete bar took."""
    found = []
    for bar in range(_bars(legs, runner)):
        at_ms = next(at_ms for at_ms, done in runner.trail if done >= legs.done_after[bar])
        found.append(min(1.0, max(0.05, at_ms / window_ms - bar)))
    return found


def _later_than_field(shares: list[list[float]], row: int) -> float:
    """How much more of its windows a lane has needed than the field on the same bars, shrunk by two bars."""
    own, gaps = shares[row], []
    for bar, share in enumerate(own):
        gaps.append(share - float(np.mean([each[bar] for each in shares if len(each) > bar])))
    return sum(gaps) / (len(gaps) + 2)


def _waiting(scene: Scene, legs: Legs, runner: Runner, hazard: float, bar: int) -> float:
    """The chance to miss the bar in hand, given how long it has been open and how much of it is done."""
    passed = max(0.0, scene.now_ms / _window_ms(scene) - bar)
    before = legs.done_after[bar] - legs.amount[bar]
    into = (_done(runner) - before) / legs.amount[bar]
    still_open = 1 / (1 + (passed / (USUAL_SHARE * (1 + into))) ** SHARPNESS)
    odds = hazard / ((1 - hazard) * still_open) / (1 + 2 * into)
    return float(odds / (1 + odds))


def _units(  # noqa: PLR0913, PLR0917
    legs: Legs, bar: int, done: int, hazard: Array, rng: np.random.Generator, draws: int
) -> Array:
    """Units done at the end (N): bar after bar until one is missed, of which some are done."""
    found = np.full(draws, float(done))
    alive = np.ones(draws, dtype=np.bool_)
    luck = np.exp(LUCK_SD * rng.standard_normal(draws, dtype=np.float32))
    for each in range(bar, len(legs.amount)):
        sure = hazard[each] >= 1
        odds = 1.0 if sure else hazard[each] / (1 - hazard[each])
        miss = np.ones(draws, dtype=np.bool_) if sure else rng.random(draws) < odds * luck / (1 + odds * luck)
        before = legs.done_after[each] - legs.amount[each]
        part = done if sure else before + np.floor(rng.random(draws) * legs.amount[each])
        found = np.where(alive & miss, np.maximum(found, part), np.where(alive, legs.done_after[each], found))
        alive &= ~miss
    return found
