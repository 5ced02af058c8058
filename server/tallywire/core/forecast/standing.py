"""From drawn results to places in heat and event, points, and the overall standing. M entries, N draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.draws import Places, Singles, place_chances, places
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.scene import Race, Result, Scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """For each runner, in the order of the scene: the chances of the places.

    `overall` is empty without points before the event. Ties share the better place and its points; equal overall
    points share the place (no count-back).
    """

    heat: list[tuple[float, ...]]
    event: list[tuple[float, ...]]
    overall: list[tuple[float, ...]]


def chances(scene: Scene, keys: Singles | Array) -> Chances:
    """Rank drawn `keys` (L, N; infinite: no result, no points) in the heat and among the event's others."""
    lanes = len(scene.runners)
    found = Chances(heat=[()] * lanes, event=[()] * lanes, overall=[()] * lanes)
    divisions = dict.fromkeys(runner.division for runner in scene.runners)
    for division in divisions:
        rows = [row for row, runner in enumerate(scene.runners) if runner.division == division]
        _rank_division(scene, keys[rows], rows, found)
    return found


def _rank_division(scene: Scene, keys: Singles | Array, rows: list[int], found: Chances) -> None:
    division = scene.runners[rows[0]].division
    others = [other for other in scene.others if other.division == division]
    settled = [other for other in others if other.finish_ms is not None or other.scored_reps is not None]
    in_heat = places(keys)
    fixed = np.array([_key(scene, other) for other in settled])
    in_event, moved = _among(keys, in_heat, fixed)
    worth = np.append(np.asarray(scene.worth, dtype=np.float32), np.zeros(len(rows) + len(settled) + 1, np.float32))
    points = worth[in_event - 1]
    points[[scene.runners[row].out for row in rows]] = 0
    _fill(found.heat, rows, in_heat, len(rows))
    if settled:
        _fill(found.event, rows, in_event, len(rows) + len(settled))
    else:
        found.event[:] = [found.heat[row] if row in rows else each for row, each in enumerate(found.event)]
    if scene.before:
        waiting = [other for other in others if other not in settled]
        overall = [scene.before.get(scene.runners[row].entry, 0.0) + points[n] for n, row in enumerate(rows)]
        overall += [scene.before.get(other.entry, 0.0) + worth[moved[n] - 1] for n, other in enumerate(settled)]
        overall += [np.full(keys.shape[1], scene.before.get(other.entry, 0.0)) for other in waiting]
        _fill(found.overall, rows, places(np.negative(overall, dtype=np.float32))[: len(rows)], len(rows) + len(others))


def _among(keys: Singles | Array, in_heat: Places, fixed: Array) -> tuple[Places, Places]:
    """Places in the event of the heat's rows and of those with fixed keys (M, N)."""
    if not len(fixed):
        return in_heat, np.zeros((0, keys.shape[1]), dtype=np.int16)
    ahead = np.searchsorted(np.sort(fixed), keys, side="left").astype(np.int16)
    moved = np.empty((len(fixed), keys.shape[1]), dtype=np.int16)
    for row, key in enumerate(fixed):
        moved[row] = 1 + (fixed < key).sum() + (keys < key).sum(axis=0)
    return in_heat + ahead, moved


def _key(scene: Scene, result: Result) -> float:
    reps = result.scored_reps or 0
    if scene.race is Race.REPS:
        return -float(reps)
    if result.finish_ms is not None:
        return float(result.finish_ms)
    return float(scene.capped_from + scene.capped_step * ((scene.plan.total_scored or 0) - reps))


def _fill(target: list[tuple[float, ...]], rows: Sequence[int], ranked: Places, rivals: int) -> None:
    for row, shares in zip(rows, place_chances(ranked, rivals).tolist(), strict=True):
        target[row] = tuple(shares)
