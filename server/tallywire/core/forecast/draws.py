"""The rest of the heat, played many times over: finish times, scored reps at the end, places. L lanes, N draws.

Single precision throughout: it is exact for whole milliseconds below 2^24 (4 h 39 min), and half the memory to move.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.outlook import Outlook
from tallywire.core.forecast.silence import Wait

Singles = np.ndarray[tuple[int, ...], np.dtype[np.float32]]
Places = np.ndarray[tuple[int, ...], np.dtype[np.int16]]

BREAK_SHARE = 0.2
BREAK_MS = 12_000.0
LEAST = np.float32(1e-7)
"""A breakdown costs, exponentially distributed, a fifth of the work left and 12 s on average (judged from practice,
no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """`next_ms` (L, N): heat clock of the next fact, infinite where the lane goes no further; `pace` (L, N): the time
    the rest takes over its median; `finish_ms` (L, N): the finish, cap or not."""

    next_ms: Singles
    pace: Singles
    finish_ms: Singles


def play(outlook: Outlook, *, now_ms: float, seed: int, draws: int) -> Draws:
    """Draw. The same seed and outlook give the same draws."""
    rng = np.random.Generator(np.random.SFC64(seed))
    chance = rng.random((len(outlook.log_ms), draws), dtype=np.float32)
    rest_ms = _column(np.exp(outlook.log_ms))
    pace = _pace(outlook, rng, draws)
    _break(outlook, rng, pace, chance)
    next_ms = _wait(outlook, rng, chance)
    next_ms += np.float32(now_ms)
    return Draws(next_ms=next_ms, pace=pace, finish_ms=next_ms + rest_ms * pace)


def _column(values: Array) -> Singles:
    return values[:, None].astype(np.float32)


def _pace(outlook: Outlook, rng: np.random.Generator, draws: int) -> Singles:
    lanes, effects = outlook.shared.shape
    pace = rng.standard_normal((lanes, draws), dtype=np.float32)
    pace *= _column(outlook.own_sd)
    pace += outlook.shared.astype(np.float32) @ rng.standard_normal((effects, draws), dtype=np.float32)
    pace *= (outlook.sigma * np.sqrt(outlook.shape / rng.standard_gamma(outlook.shape, draws))).astype(np.float32)
    return np.exp(pace, out=pace)


def _break(outlook: Outlook, rng: np.random.Generator, pace: Singles, chance: Singles) -> None:
    """Let some break down: those with the highest chances, which are neither stopped nor resting."""
    cost = (BREAK_SHARE + BREAK_MS / np.maximum(np.exp(outlook.log_ms), 5000.0)).astype(np.float32)
    lane, draw = np.nonzero(chance > _column(1 - outlook.breaking))
    pace[lane, draw] *= 1 + rng.standard_exponential(len(lane), dtype=np.float32) * cost[lane]


def _wait(outlook: Outlook, rng: np.random.Generator, chance: Singles) -> Singles:
    """The time from now to the next fact, given the silence so far; infinite for who has stopped."""
    wait, stop = outlook.wait, outlook.stopping
    share = rng.random(chance.shape, dtype=np.float32)
    np.maximum(share, LEAST, out=share)
    resting = chance < _column(stop + (1 - stop) * wait.rest_chance)
    lane, draw = np.nonzero(resting)
    rested = _later_rest(wait, lane, share[lane, draw])
    found = _later(wait, share)
    found[lane, draw] = rested
    found -= _column(wait.waited_ms)
    np.maximum(found, 0, out=found)
    found[chance < _column(stop)] = np.inf
    return found


def _later(wait: Wait, share: Singles) -> Singles:
    """The usual wait at the quantile `share` from the end, given the silence: worked in place."""
    odds = np.minimum((wait.waited_ms / wait.usual_ms) ** wait.usual_k, 1e30)
    np.divide(_column(1 + odds), share, out=share)
    share -= 1
    np.maximum(share, LEAST, out=share)
    np.log(share, out=share)
    share *= _column(1 / wait.usual_k)
    share += _column(np.log(wait.usual_ms))
    return np.exp(share, out=share)


def _later_rest(wait: Wait, lane: np.ndarray[tuple[int], np.dtype[np.int64]], share: Singles) -> Singles:
    odds = (wait.waited_ms / wait.rest_ms) ** wait.rest_k
    found = wait.rest_ms[lane] * ((1 + odds[lane]) / share - 1) ** (1 / wait.rest_k[lane])
    return found.astype(np.float32)


def scored_at(legs: Legs, outlook: Outlook, lane: int, spare_ms: Singles) -> Singles:
    """Scored reps of one lane when `spare_ms` (N) of usual pace remain after its next fact; −1 where it never comes."""
    first = int(outlook.current[lane])
    before = legs.done_after[first] - legs.amount[first]
    times = np.concatenate(([0.0], np.cumsum(outlook.ahead_ms[lane, first:])))
    reached = np.concatenate(([before + outlook.next_units[lane]], legs.done_after[first:]))
    return scored(legs, np.where(spare_ms < 0, -1.0, np.interp(spare_ms, times, reached)))


def scored(legs: Legs, units: Array) -> Singles:
    """Scored reps of whole units done: a block counts when it is complete. Below 0 stays below."""
    return legs.scored_by_unit[np.floor(units + 1e-6).astype(np.int64)]


def places(keys: Singles | Array) -> Places:
    """Places (M, N) for keys (M, N) where smaller is better; equal keys share the better place.

    Comparing each row with all others is faster here than sorting 4,000 short columns.
    """
    small = np.int8 if len(keys) < 127 else np.int16
    found = np.empty(keys.shape, dtype=small)
    better = np.empty(keys.shape, dtype=np.bool_)
    for row, key in enumerate(keys):
        np.less(keys, key, out=better)
        np.add.reduce(better.view(np.int8), axis=0, dtype=small, out=found[row])
    found += 1
    return found.astype(np.int16)


def place_chances(found: Places, rivals: int) -> Array:
    """The share of draws on each place 1 … rivals (L, rivals), for places (L, N)."""
    lanes, draws = found.shape
    flat = (found - 1 + (np.arange(lanes, dtype=np.int64) * rivals)[:, None]).ravel()
    return np.bincount(flat, minlength=lanes * rivals).reshape(lanes, rivals) / draws
