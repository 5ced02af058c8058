"""How the heat may end: what is drawn becomes finish times, scored reps and sort keys. L lanes, N draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.draws import Draws, Singles, play, scored_at
from tallywire.core.forecast.legs import Legs, legs_of
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.model import Learned, believe, learn
from tallywire.core.forecast.outlook import Outlook, look_ahead
from tallywire.core.forecast.reading import read
from tallywire.core.forecast.scene import Race, Runner, Scene

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

NEVER = 2.0**25
"""Stands for a time in ms that never comes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Sort keys (L, N; smaller is better, infinite for who has no result) and, for a race with a model, finish times
    as if there were no cap, whether they are inside it, scored reps at the end of the heat, and what was learned.
    `total_ms` is what counts of timed pieces, infinite where one is not complete."""

    keys: Singles | Array
    finish_ms: Singles | None = None
    inside: Flags | None = None
    scored_reps: Singles | None = None
    load_milli: Singles | None = None
    total_ms: Singles | None = None
    learned: Learned | None = None


def stands(scene: Scene) -> Ends:
    """The places that stand, once: for races without a model."""
    places = np.array([float(runner.place) for runner in scene.runners])[:, None]
    places[_out(scene)] = np.inf
    return Ends(keys=places)


def play_out(scene: Scene, *, seed: int, draws: int) -> Ends:
    """Learn from what has been done, look ahead, and play the rest `draws` times."""
    legs = legs_of(scene.plan)
    reading = read(legs, [runner.trail for runner in scene.runners], start_ms=scene.start_ms)
    field = scene.learned or believe(legs, scene.prior)
    learned = learn(legs, reading, scene.prior, field=field, history=[runner.history for runner in scene.runners])
    horizon = scene.ends_ms if scene.race is Race.REPS else np.inf
    outlook = look_ahead(legs, reading, learned, scene.prior, clock=(float(scene.now_ms), float(horizon)))
    drawn = play(outlook, now_ms=float(scene.now_ms), seed=seed, draws=draws)
    finish = _finishes(scene, drawn)
    inside = finish <= np.float32(scene.ends_ms)
    reps = _reps(scene, legs, outlook, drawn, inside)
    return Ends(
        keys=_keys(scene, finish, inside, reps, _tie_breaks(scene, legs, outlook, drawn)),
        finish_ms=finish,
        inside=inside,
        scored_reps=reps,
        learned=learned,
    )


def _out(scene: Scene) -> list[bool]:
    return [runner.out for runner in scene.runners]


def _finishes(scene: Scene, drawn: Draws) -> Singles:
    """Finish times on the clock: those known, never for who is out or has work without an end."""
    finish = drawn.finish_ms
    for row, runner in enumerate(scene.runners):
        if runner.finish_ms is not None:
            finish[row] = runner.finish_ms
    finish[_out(scene)] = np.inf
    if scene.race is Race.REPS:
        finish[:] = np.inf
    return finish


def _reps(scene: Scene, legs: Legs, outlook: Outlook, drawn: Draws, inside: Flags) -> Singles:
    """Scored reps at the end of the heat, penalties taken off: all of them for who finishes inside the cap."""
    now = np.array([_scored_now(scene, runner) for runner in scene.runners], dtype=np.float32)
    still = np.array([not runner.out for runner in scene.runners]) & (outlook.current < len(legs.amount))
    reps = np.full(inside.shape, legs.scored_after[-1], dtype=np.float32)
    reps[~still] = now[~still, None]
    late = np.flatnonzero(~inside & still[:, None])
    lane = late // inside.shape[1]
    spare = (np.float32(scene.ends_ms) - drawn.next_ms.reshape(-1)[late]) / drawn.pace.reshape(-1)[late]
    reps.reshape(-1)[late] = np.maximum(scored_at(legs, outlook, lane, spare), now[lane])
    for row, runner in enumerate(scene.runners):
        if runner.penalty_reps:
            reps[row] = np.maximum(reps[row] - runner.penalty_reps, 0)
    return reps


def _scored_now(scene: Scene, runner: Runner) -> int:
    return scene.plan.scored(runner.trail[-1][1]) if runner.trail else 0


def _tie_breaks(scene: Scene, legs: Legs, outlook: Outlook, drawn: Draws) -> Array | None:
    """The time at the tie-break mark as a part of one rep (L, N): known, or drawn; None where the work has none."""
    mark = scene.plan.workout.tie_break
    if mark is None:
        return None
    units = scene.plan.done_at(mark)
    leg = int(legs.done_after.searchsorted(units))
    found = np.empty(drawn.next_ms.shape)
    for row, runner in enumerate(scene.runners):
        passed = next((at_ms for at_ms, done in runner.trail if done >= units), None)
        ahead = float(outlook.ahead_ms[row, outlook.current[row] : leg + 1].sum())
        found[row] = drawn.next_ms[row] + drawn.pace[row] * ahead if passed is None else passed
    return as_part(np.where(found > scene.ends_ms, np.inf, found))


def as_part(tie_break_ms: Array) -> Array:
    """Give a tie-break time as a part of one rep: later is more, never is the most."""
    return np.asarray(np.minimum(tie_break_ms, NEVER - 1) / NEVER, dtype=np.float64)


def _keys(scene: Scene, finish: Singles, inside: Flags, reps: Singles, parts: Array | None) -> Singles | Array:
    """Equal keys share a place; equal counts are parted by the tie-break where the work has one."""
    if scene.race is Race.REPS:
        keys: Singles | Array = np.negative(reps) if parts is None else parts - reps
    else:
        to_go = np.float32(scene.plan.total_scored or 0) - reps
        capped = np.float32(scene.capped_from) + np.float32(scene.capped_step) * to_go
        if parts is not None and scene.race is Race.TIME:
            capped = capped + parts
        keys = capped
        np.copyto(keys, finish, where=inside)
        for row, runner in enumerate(scene.runners):
            if runner.penalty_ms:
                keys[row, inside[row] | (scene.race is Race.PENALISED)] += runner.penalty_ms
    keys[_out(scene)] = np.inf
    return keys
