"""How the heat may end: draws become finish times, scored reps and sort keys. L lanes, N draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from tallywire.core.forecast.draws import Draws, Singles, play_each, scored_at
from tallywire.core.forecast.legs import Legs, legs_of
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.model import Learned, Prior, Taught, believe, learn
from tallywire.core.forecast.outlook import Outlook, look_ahead
from tallywire.core.forecast.reading import Reading, read
from tallywire.core.forecast.scene import Runner, Scene, ScoredPart
from tallywire.core.formats.counting import done_at
from tallywire.core.model.workout import Plan

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

NEVER = 2.0**25
"""Stands for a time in ms that never comes."""
NOT_PASSED = 2.0**40
"""The sort key, before scored reps are subtracted, of those who have not passed the mark of a part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Sort keys (L, N; smaller is better, infinite for those without a result) and, of work that is one count, finish
    times as if there were no cap, whether they are inside it, scored reps at the end of the heat, and what was learned.
    `own` are numbers a format has beside these, by the name in its frames; infinite where there is none. `part_keys`
    are the sort keys of each score of an event with several. `worked` is what the least work is measured by, where
    `scored_reps` is not: all scored reps of pieces of which one counts, good lifts."""

    keys: Singles | Array
    finish_ms: Singles | None = None
    inside: Flags | None = None
    scored_reps: Singles | None = None
    worked: Singles | None = None
    own: Mapping[str, Singles] = field(default_factory=dict)
    learned: Learned | None = None
    part_keys: tuple[Singles | Array, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Played:
    """The work, the outlook on the rest of it, and the rest as drawn."""

    legs: Legs
    outlook: Outlook
    drawn: Draws


def stands(scene: Scene) -> Ends:
    """The present places as a single draw, for formats without a model."""
    places = np.array([float(runner.place) for runner in scene.runners])[:, None]
    places[_out(scene)] = np.inf
    return Ends(keys=places)


def play_out(scene: Scene, *, seed: int, draws: int, cap_penalty_ms: int | None = None) -> Ends:
    """Learn from what has been done, look ahead, and play the rest `draws` times.

    `cap_penalty_ms` is what each scored rep left at the cap adds to it; None places those who are capped behind all
    finishers.
    """
    legs = legs_of(scene.plan)
    trails = [runner.trail for runner in scene.runners]
    reading = read(legs, trails, start_ms=scene.start_ms, handed_on=scene.handed_on)
    learned = learn_from(scene, legs, reading)
    horizon = scene.ends_ms if scene.plan.total_done is None else np.inf
    clock = (float(scene.now_ms), float(horizon))
    outlooks = [look_ahead(legs, reading, each, scene.prior, clock=clock) for each in learned]
    drawn = play_each(outlooks, [each.share for each in learned], now_ms=clock[0], seed=seed, draws=draws)
    outlook = outlooks[0]
    finish = _finishes(scene, drawn)
    inside = finish <= np.float32(scene.ends_ms)
    played = _Played(legs=legs, outlook=outlook, drawn=drawn)
    reps = _reps(scene, played, float(scene.ends_ms))
    parts = None if cap_penalty_ms is not None else _tie_breaks(scene, played)
    if scene.plan.total_done is None:
        keys: Singles | Array = np.negative(reps) if parts is None else parts - reps
    else:
        keys = _fixed_keys(scene, finish, inside, reps, parts, cap_penalty_ms)
    keys[_out(scene)] = np.inf
    return Ends(
        keys=keys,
        part_keys=tuple(_part_keys(scene, played, part, keys, reps) for part in scene.parts),
        finish_ms=finish,
        inside=inside,
        scored_reps=reps,
        learned=learned[0],
    )


def learn_from(scene: Scene, legs: Legs, reading: Reading) -> list[Learned]:
    """Learn from what the lanes of a heat have done, with what is believed of the workout and of the entries."""
    taught = scene.learned or _believe(scene.plan, scene.prior)
    history = [runner.history for runner in scene.runners]
    return learn(legs, reading, scene.prior, taught=taught, history=history, handed_on=scene.handed_on)


@lru_cache(maxsize=16)
def _believe(plan: Plan, prior: Prior) -> Taught:
    return believe(legs_of(plan), prior)


def _out(scene: Scene) -> list[bool]:
    return [runner.out for runner in scene.runners]


def _finishes(scene: Scene, drawn: Draws) -> Singles:
    """Finish times on the clock: known or drawn, and never for a lane that is out or has work without an end."""
    finish = drawn.finish_ms
    for row, runner in enumerate(scene.runners):
        if runner.finish_ms is not None:
            finish[row] = runner.finish_ms
    finish[_out(scene)] = np.inf
    if scene.plan.total_done is None:
        finish[:] = np.inf
    return finish


def _reps(scene: Scene, played: _Played, at_ms: float) -> Singles:
    """Scored reps when the clock will stand at `at_ms`, penalties taken off: all of them for a lane home by then."""
    legs, outlook, drawn = played.legs, played.outlook, played.drawn
    now = np.array([_scored_now(scene, runner) for runner in scene.runners], dtype=np.float32)
    still = np.array([not runner.out for runner in scene.runners]) & (outlook.current < len(legs.amount))
    reps = np.full(drawn.finish_ms.shape, legs.scored_after[-1], dtype=np.float32)
    reps[~still] = now[~still, None]
    is_late = drawn.finish_ms > np.float32(at_ms)
    is_late[~still] = False
    late = np.flatnonzero(is_late)
    lane = late // reps.shape[1]
    next_ms = drawn.next_ms.reshape(-1)[late]
    # A rep at the very moment of the end comes too late, however slow the pace by which the time is divided.
    pace = np.maximum(drawn.pace.reshape(-1)[late], np.float32(1e-6))
    spare = np.where(next_ms < at_ms, (np.float32(at_ms) - next_ms) / pace, np.float32(-1))
    reps.reshape(-1)[late] = np.maximum(scored_at(legs, outlook, lane, spare), now[lane])
    for row, runner in enumerate(scene.runners):
        if runner.penalty_reps:
            reps[row] = np.maximum(reps[row] - runner.penalty_reps, 0)
    return reps


def _scored_now(scene: Scene, runner: Runner) -> int:
    return scene.plan.scored(runner.trail[-1][1]) if runner.trail else 0


def _tie_breaks(scene: Scene, played: _Played) -> Array | None:
    """The time at the tie-break mark as a fraction of one rep (L, N), known or drawn.

    None where the work has no mark.
    """
    mark = scene.plan.workout.tie_break
    return None if mark is None else as_part(_times_at(scene, played, scene.plan.done_at(mark)))


def _times_at(scene: Scene, played: _Played, units: int) -> Array:
    """When the lanes have done a number of units (L, N), known or drawn; infinite where the heat ends before."""
    legs, outlook, drawn = played.legs, played.outlook, played.drawn
    leg = int(legs.done_after.searchsorted(units))
    found = np.empty(drawn.next_ms.shape)
    for row, runner in enumerate(scene.runners):
        passed = next((at_ms for at_ms, done in runner.trail if done >= units), None)
        ahead = float(outlook.ahead_ms[row, outlook.current[row] : leg + 1].sum())
        found[row] = drawn.next_ms[row] + drawn.pace[row] * ahead if passed is None else passed
    return np.where(found > scene.ends_ms, np.inf, found)


def _part_keys(
    scene: Scene, played: _Played, part: ScoredPart, keys: Singles | Array, reps: Singles
) -> Singles | Array:
    """Sort keys of one of several scores (L, N), as `of_event` has them of other entries."""
    if part.mark_units is not None:
        passed = _times_at(scene, played, part.mark_units)
        passed += np.array([runner.penalty_ms for runner in scene.runners])[:, None]
        found = np.where(np.isfinite(passed), passed, NOT_PASSED - reps.astype(np.float64))
    elif part.at_ms is not None:
        found = np.negative(_reps_at(scene, played, float(part.at_ms)))
    else:
        return keys
    found[_out(scene)] = np.inf
    return found


def _reps_at(scene: Scene, played: _Played, at_ms: float) -> Singles:
    """Scored reps at a time on the clock (L, N): known if it has passed."""
    if scene.now_ms < at_ms:
        return _reps(scene, played, min(at_ms, float(scene.ends_ms)))
    found = np.empty(played.drawn.finish_ms.shape, dtype=np.float32)
    for row, runner in enumerate(scene.runners):
        found[row] = max(0, scene.plan.scored(done_at(runner.trail, int(at_ms))) - runner.penalty_reps)
    return found


def as_part(tie_break_ms: Array) -> Array:
    """Give a tie-break time as a fraction of one rep: a later time is more, and a time that never comes is the most."""
    return np.asarray(np.minimum(tie_break_ms, NEVER - 1) / NEVER, dtype=np.float64)


def tie_break_part(scene: Scene, tie_break_ms: int | None) -> float:
    """Give one time at the tie-break mark (None: not passed) as a fraction of one rep; 0 where the work has no mark."""
    if scene.plan.workout.tie_break is None:
        return 0.0
    return float(as_part(np.array(np.inf if tie_break_ms is None else tie_break_ms)))


def capped_scale(scene: Scene, cap_penalty_ms: int | None) -> tuple[int, int]:
    """Give the sort key of being capped with nothing to go, and what each scored rep to go adds to it.

    With a penalty these are the cap and the penalty; otherwise the first is later than every possible time.
    """
    cap_ms = scene.plan.workout.time_cap_ms
    if cap_penalty_ms is not None:
        return cap_ms, cap_penalty_ms
    times = [other.finish_ms or 0 for other in scene.others]
    return max([cap_ms, *times]) + max([0, *(runner.penalty_ms for runner in scene.runners)]) + 1, 1


def _fixed_keys(  # noqa: PLR0913, PLR0917
    scene: Scene, finish: Singles, inside: Flags, reps: Singles, parts: Array | None, cap_penalty_ms: int | None
) -> Singles | Array:
    """Equal keys share a place; the tie-break decides between equal counts where the work has one."""
    capped_from, step = capped_scale(scene, cap_penalty_ms)
    outside = np.flatnonzero(~inside)
    capped: Singles | Array = np.float32(scene.plan.total_scored or 0) - reps.reshape(-1)[outside]
    capped *= np.float32(step)
    capped += np.float32(capped_from)
    if parts is not None:
        capped = capped + parts.reshape(-1)[outside]
    keys: Singles | Array = finish.copy() if parts is None else finish.astype(np.float64)
    keys.reshape(-1)[outside] = capped
    for row, runner in enumerate(scene.runners):
        if runner.penalty_ms:
            keys[row, inside[row] | (cap_penalty_ms is not None)] += runner.penalty_ms
    return keys
