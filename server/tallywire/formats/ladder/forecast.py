"""The bars still to come in a ladder: on which one a lane goes out. L lanes, K bars, N draws.

To miss a bar is a hazard that rises with the bars, pooled over the field, and moved for a lane by how much of its
windows it has needed. In the window that runs silence counts: the longer the bar is open, the likelier it is missed.
"""

from __future__ import annotations

import numpy as np

from tallywire.core.fold.heat import LaneState
from tallywire.core.forecast.draws import Singles, scored
from tallywire.core.forecast.ends import Ends, as_part
from tallywire.core.forecast.format_forecast import KeyedForecast
from tallywire.core.forecast.legs import Legs, legs_of
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.scene import Runner, Scene
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

    def play(self, scene: Scene, *, seed: int, draws: int) -> Ends:
        """Play the bars that are left."""
        return _play(scene, seed=seed, draws=draws)

    def key_now(self, plan: Plan, lane: LaneState) -> float:
        """Give the scored reps, with the tie-break time as a part of one."""
        _, scored, tie_break_ms = lane.outcome.key
        return float(scored if plan.workout.tie_break is None else scored + as_part(np.array(float(tie_break_ms))))


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
    parts = _tie_breaks(scene, legs, units, rng)
    if parts is not None:
        keys = keys + parts
    keys[[runner.out for runner in scene.runners]] = np.inf
    return Ends(keys=keys, scored_reps=reps)


def _tie_breaks(scene: Scene, legs: Legs, units: Array, rng: np.random.Generator) -> Array | None:
    """The time at the tie-break mark as a part of one rep (L, N): known, or anywhere left of its bar's window."""
    mark = scene.plan.workout.tie_break
    if mark is None:
        return None
    wanted, window_ms = scene.plan.done_at(mark), _window_ms(scene)
    bar = int(legs.done_after.searchsorted(wanted))
    begin_ms, end_ms = max(scene.now_ms, bar * window_ms), (bar + 1) * window_ms
    times = np.where(units >= wanted, begin_ms + max(0, end_ms - begin_ms) * rng.random(units.shape), np.inf)
    for row, runner in enumerate(scene.runners):
        passed = next((at_ms for at_ms, done in runner.trail if done >= wanted), None)
        if passed is not None:
            times[row] = passed
    return as_part(times)


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
