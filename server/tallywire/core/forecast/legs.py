"""The work as columns: one row for each station of each round, laps unrolled as far as the clock can matter."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tallywire.core.forecast.mixed import Array
from tallywire.core.model.workout import Credit, Leg, Plan

SPARE = 2.5
"""Endless work is unrolled until, at the expected pace, it would take this many times the cap."""
MOST_LEGS = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class Legs:
    """K legs: expected ms, units, scored reps and expected ms at the ends, the station's index, block or not.

    `progress` (K) is where the middle of the leg lies between the start (0) and the end of the work, or the cap for
    endless work (1); it may pass 1 there. `repeated` are the indexes of the stations that come up more than once.
    `begins_at` (K + 1) are the units done at their beginnings, and at the end of the last.
    `whole_ms` is the expected time of the work, or the cap of endless work. `scored_by_unit` gives the scored reps of
    0, 1, 2 … units, and −1 at its end, for −1 units; `scoring_units` are the units at which the count goes up.
    """

    expected_ms: Array
    amount: Array
    begins_at: Array
    done_after: Array
    scored_after: Array
    scored: Array
    station: np.ndarray[tuple[int], np.dtype[np.int64]]
    block: np.ndarray[tuple[int], np.dtype[np.bool_]]
    progress: Array
    stations: int
    repeated: tuple[int, ...]
    whole_ms: float
    scored_by_unit: np.ndarray[tuple[int], np.dtype[np.float32]]
    scoring_units: Array


@lru_cache(maxsize=16)
def legs_of(plan: Plan) -> Legs:
    """Unroll a plan, once. Stations with the same movement and unit are one station, whatever their amounts."""
    cap_ms = plan.workout.time_cap_ms
    unrolled = _unroll(plan)
    names = list(dict.fromkeys((leg.station.movement, leg.station.unit) for leg in unrolled))
    station = np.array([names.index((leg.station.movement, leg.station.unit)) for leg in unrolled])
    expected = np.array([float(leg.station.expected_ms) for leg in unrolled])
    amount = np.array([float(leg.station.amount) for leg in unrolled])
    scored = np.array([float(leg.station.scored) for leg in unrolled])
    middle = np.cumsum(expected) - expected / 2
    whole_ms = float(expected.sum()) if plan.laps is not None else float(cap_ms)
    counts = np.bincount(station, minlength=len(names))
    scored_by_unit = _scored_by_unit(unrolled)
    return Legs(
        expected_ms=expected,
        amount=amount,
        begins_at=np.append(0.0, np.cumsum(amount)),
        done_after=np.cumsum(amount),
        scored_after=np.cumsum(scored),
        scored=scored,
        station=station,
        block=np.array([leg.station.credit is Credit.BLOCK for leg in unrolled]),
        progress=middle / whole_ms,
        whole_ms=whole_ms,
        scored_by_unit=scored_by_unit,
        scoring_units=np.flatnonzero(np.diff(scored_by_unit[:-1])).astype(np.float64) + 1,
        stations=len(names),
        repeated=tuple(int(index) for index in np.flatnonzero(counts > 1)),
    )


def _unroll(plan: Plan) -> list[Leg]:
    if plan.laps is not None:
        return list(plan.legs) * plan.laps
    lap_ms = plan.lap_expected_ms
    laps = int(SPARE * plan.workout.time_cap_ms / lap_ms) + 2
    return (list(plan.legs) * min(laps, MOST_LEGS // len(plan.legs) + 1))[: max(MOST_LEGS, len(plan.legs))]


def _scored_by_unit(unrolled: list[Leg]) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    counts = [0.0]
    for leg in unrolled:
        amount = leg.station.amount
        block = leg.station.credit is Credit.BLOCK
        counts += [0.0] * (amount - 1) + [1.0] if block else [1.0] * amount
    return np.append(np.cumsum(counts), -1.0).astype(np.float32)
