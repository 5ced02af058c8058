"""Attempts still to come in a max-load event: which are good lifts, and what the heaviest comes to. L lanes, N draws.

A good lift is a chance by the size of the jump: those of the field in beta-binomial pooling, and of a lane as its own
record moves them. After a good lift the next load rises as the lane, or the field, has been raising; after a miss the
same load comes again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import numpy as np

from tallywire.core.forecast.draws import Singles
from tallywire.core.forecast.ends import Ends, Flags
from tallywire.core.forecast.format_forecast import KeyedForecast
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.formats.max_load.rules import rules_of
from tallywire.formats.max_load.tally import Attempt, attempts_of

FIRST, AGAIN, SMALL, MIDDLE, LARGE = range(5)
GOOD = np.array([0.90, 0.55, 0.80, 0.65, 0.45])
"""Good lifts of a first attempt, of the same load again, of a jump to 2.5 %, to 5 %, and beyond (common practice, no
source)."""
JUMPS = (0.0, 0.025, 0.05)
FIELD_WEIGHT = 8.0
OWN_WEIGHT = 12.0
"""The chances above weigh as much as eight attempts, those of the field as much as twelve of a lane's own."""
USUAL_JUMP = 0.04
JUMP_SD = 0.4
FIRST_SD = 0.08
UNKNOWN_MILLI = 100_000.0
UNKNOWN_SD = 0.15
EVERY_MS = 60_000
MOST = 8
"""Where attempts are not numbered, one a minute is expected until the lane's own spacing is known, eight at most."""


class LiftForecast(KeyedForecast):
    """Attempts still to come."""

    def play(self, scene: Scene, *, seed: int, draws: int) -> Ends:
        """Play the attempts that are left. `load` is the heaviest good lift."""
        return _play(scene, seed=seed, draws=draws)


FACET = LiftForecast()


def _play(scene: Scene, *, seed: int, draws: int) -> Ends:
    rng = np.random.Generator(np.random.SFC64(seed))
    outlook = _outlook(scene)
    best, lifts = (np.zeros((len(scene.runners), draws), dtype=np.float32) for _ in range(2))
    for row, runner in enumerate(scene.runners):
        best[row], lifts[row] = _lifted(scene, runner, outlook, rng, draws)
    best[[runner.out for runner in scene.runners]] = 0
    keys = np.negative(best)
    keys[[runner.out for runner in scene.runners]] = np.inf
    lifted = any(attempt.made for runner in scene.runners for attempt in attempts_of(runner.tally))
    return Ends(keys=keys, worked=lifts, own={"load": best} if lifted else {})


@dataclass(frozen=True, slots=True)
class _Outlook:
    good: Array
    jump: float
    first_milli: float
    first_sd: float
    step_milli: float


def kind_of(before: Sequence[Attempt], load_milli: float) -> int:
    """Give the kind of an attempt by what came before it."""
    best = max((attempt.load_milli for attempt in before if attempt.made), default=0)
    if not before:
        return FIRST
    if not before[-1].made and load_milli <= before[-1].load_milli:
        return AGAIN
    jump = load_milli / best - 1 if best else 0.0
    return SMALL + sum(jump > edge for edge in JUMPS[1:])


def _outlook(scene: Scene) -> _Outlook:
    """What the field shows: how often attempts of each kind were good, how it raises, where it began."""
    made, missed = np.zeros(5), np.zeros(5)
    for runner in scene.runners:
        for n, attempt in enumerate(attempts_of(runner.tally)):
            (made if attempt.made else missed)[kind_of(attempts_of(runner.tally)[:n], attempt.load_milli)] += (
                attempt.made is not None
            )
    firsts = [float(attempts_of(runner.tally)[0].load_milli) for runner in scene.runners if attempts_of(runner.tally)]
    jumps = [jump for runner in scene.runners for jump in _jumps(runner)]
    plates = rules_of(scene.plan.workout).plates_milli
    return _Outlook(
        good=(FIELD_WEIGHT * GOOD + made) / (FIELD_WEIGHT + made + missed),
        jump=median([*jumps, USUAL_JUMP]),
        first_milli=median(firsts) if firsts else UNKNOWN_MILLI,
        first_sd=FIRST_SD if firsts else UNKNOWN_SD,
        step_milli=2.0 * min(plates, default=500),
    )


def _jumps(runner: Runner) -> list[float]:
    loads = [attempt.load_milli for attempt in attempts_of(runner.tally)]
    return [later / first - 1 for first, later in pairwise(loads) if later > first > 0]


def _lifted(
    scene: Scene, runner: Runner, outlook: _Outlook, rng: np.random.Generator, draws: int
) -> tuple[Singles, Singles]:
    """The heaviest good lift at the end, and the number of good lifts (N)."""
    judged = [attempt for attempt in attempts_of(runner.tally) if attempt.made is not None]
    open_milli = next((float(each.load_milli) for each in attempts_of(runner.tally) if each.made is None), None)
    best: Singles = np.full(draws, max((each.load_milli for each in judged if each.made), default=0), np.float32)
    last: Singles = np.full(draws, judged[-1].load_milli if judged else 0, dtype=np.float32)
    good: Flags = np.full(draws, bool(judged and judged[-1].made))
    chances = _chances(outlook, judged)
    lifts: Singles = np.full(draws, sum(each.made is True for each in judged), np.float32)
    luck = rng.standard_normal(draws, dtype=np.float32)
    jump = median([*_jumps(runner), outlook.jump])
    for number in range(len(judged), len(judged) + attempts_left(scene, runner)):
        load = _load(outlook, jump, last, good, rng) if open_milli is None else np.full(draws, open_milli, np.float32)
        open_milli = None
        good = rng.random(draws, dtype=np.float32) < _chance(chances, number, load, last, best, good, luck)
        best, last = np.asarray(np.where(good, np.maximum(best, load), best), dtype=np.float32), load
        lifts += good
    return best, lifts


def attempts_left(scene: Scene, runner: Runner) -> int:
    """How many attempts are still to be judged: those allowed, or as many as time may allow; an open one at least."""
    judged = [attempt for attempt in attempts_of(runner.tally) if attempt.made is not None]
    waiting = len(attempts_of(runner.tally)) > len(judged)
    over = scene.now_ms >= scene.ends_ms
    allowed = scene.plan.total_done
    if runner.out or over:
        return int(waiting and not runner.out)
    if allowed is not None:
        return max(0, allowed - len(judged))
    gaps = [later.at_ms - first.at_ms for first, later in pairwise(attempts_of(runner.tally))]
    every_ms = max(10_000, median([*gaps, EVERY_MS]))
    return max(int(waiting), min(MOST, int((scene.ends_ms - scene.now_ms) / every_ms)))


def _chances(outlook: _Outlook, judged: Sequence[Attempt]) -> Array:
    """A lane's chances by kind: the field's, moved by how the lane did against what was to be expected of it."""
    expected = sum(outlook.good[kind_of(judged[:n], attempt.load_milli)] for n, attempt in enumerate(judged))
    surplus = sum(bool(attempt.made) for attempt in judged) - expected
    return np.asarray(np.clip(outlook.good + surplus / (OWN_WEIGHT + len(judged)), 0.03, 0.97), dtype=np.float64)


def _load(outlook: _Outlook, jump: float, last: Singles, good: Flags, rng: np.random.Generator) -> Singles:
    draws = len(last)
    raised = last * (1 + jump * np.exp(JUMP_SD * rng.standard_normal(draws, dtype=np.float32)))
    raised = np.maximum(np.round(raised / outlook.step_milli) * outlook.step_milli, last + outlook.step_milli)
    first = outlook.first_milli * np.exp(outlook.first_sd * rng.standard_normal(draws, dtype=np.float32))
    first = np.round(first / outlook.step_milli) * outlook.step_milli
    return np.where(last == 0, first, np.where(good, raised, last)).astype(np.float32)


def _chance(  # noqa: PLR0913, PLR0917
    chances: Array, number: int, load: Singles, last: Singles, best: Singles, good: Flags, luck: Singles
) -> Singles:
    """The chance of a good lift (N), uncertain by as much as the weights say."""
    jump = np.where(best > 0, load / np.maximum(best, 1) - 1, 0)
    kind = SMALL + (jump > JUMPS[1]).astype(np.int8) + (jump > JUMPS[2])
    kind = np.where(~good & (load <= last), AGAIN, kind) if number else np.full(len(load), FIRST)
    chance = chances[kind]
    spread = 1 / np.sqrt(OWN_WEIGHT * chance * (1 - chance))
    odds = chance / (1 - chance) * np.exp(spread * luck)
    return np.asarray(odds / (1 + odds), dtype=np.float32)
