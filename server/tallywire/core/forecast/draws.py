"""The rest of the heat, played many times over, gives finish times, scored reps at the end and places.

L lanes, N draws.

Single precision throughout: it is exact for whole milliseconds below 2^24 (4 h 39 min), and half the memory to move.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.outlook import Outlook
from tallywire.core.forecast.scene import Ranks

Singles = np.ndarray[tuple[int, ...], np.dtype[np.float32]]
Places = np.ndarray[tuple[int, ...], np.dtype[np.int8 | np.int16]]
Indexes = np.ndarray[tuple[int, ...], np.dtype[np.int64]]

BREAK_SHARE = 0.2
BREAK_MS = 12_000.0
LEAST = np.float32(1e-7)
"""A breakdown costs, exponentially distributed, a fifth of the work left and 12 s on average (judged from practice,
no source)."""
CELLS = 2048
"""The number of steps of the table in which a lane's work ahead is looked up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """Random numbers for N draws, the same in every forecast of a heat: only what the facts say differs.

    Of each lane (L, N) two uniform ones, `chance` and `share`, and a normal one, `own`; of each effect of the field
    (g, N) a normal one. `trouble` is `chance` as an exponential number.
    """

    chance: Singles
    trouble: Singles
    share: Singles
    own: Singles
    field: Singles

    @classmethod
    def of(cls, seed: int, *, lanes: int, effects: int, draws: int) -> Numbers:
        """Draw them. Nobody can write into them: they serve every forecast of the heat, on whichever thread."""
        rng = np.random.Generator(np.random.SFC64(seed))
        chance = rng.random((lanes, draws), dtype=np.float32)
        numbers = cls(
            chance=chance,
            trouble=-np.log1p(-chance),
            own=rng.standard_normal((lanes, draws), dtype=np.float32),
            field=rng.standard_normal((effects, draws), dtype=np.float32),
            share=np.maximum(rng.random((lanes, draws), dtype=np.float32), LEAST),
        )
        for each in (numbers.chance, numbers.trouble, numbers.own, numbers.field, numbers.share):
            each.setflags(write=False)
        return numbers

    def part(self, begin: int, end: int) -> Numbers:
        """Give those of some of the draws."""
        return Numbers(
            chance=self.chance[:, begin:end],
            trouble=self.trouble[:, begin:end],
            share=self.share[:, begin:end],
            own=self.own[:, begin:end],
            field=self.field[:, begin:end],
        )


_numbers = lru_cache(maxsize=4)(Numbers.of)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """`next_ms` (L, N): heat clock of the next fact, infinite where the lane goes no further; `pace` (L, N): the time
    the rest takes over its median; `finish_ms` (L, N): the finish, cap or not."""

    next_ms: Singles
    pace: Singles
    finish_ms: Singles


def play_each(outlooks: Sequence[Outlook], shares: Sequence[float], *, now_ms: float, seed: int, draws: int) -> Draws:
    """Draw from several outlooks, from each as its share says. The same seed and outlooks give the same draws."""
    lanes, effects = outlooks[0].shared.shape
    numbers = _numbers(seed, lanes=lanes, effects=effects, draws=draws)
    ends = [*np.rint(np.cumsum(shares[:-1]) * draws).astype(int).tolist(), draws]
    parts = [
        _play(outlook, numbers.part(begin, end), _noise((seed, 1 + begin), outlook.shape, end - begin), now_ms)
        for outlook, begin, end in zip(outlooks, [0, *ends], ends, strict=False)
        if begin < end
    ]
    if len(parts) == 1:
        return parts[0]
    return Draws(
        next_ms=np.concatenate([each.next_ms for each in parts], axis=1),
        pace=np.concatenate([each.pace for each in parts], axis=1),
        finish_ms=np.concatenate([each.finish_ms for each in parts], axis=1),
    )


@lru_cache(maxsize=16)
def _noise(seed: tuple[int, ...], shape: float, draws: int) -> Singles:
    """How many times its typical size the noise has in each draw (N): inverse gamma.

    numpy takes a 0 at the end of a seed for nothing: then these would come from the bits of the other numbers.
    """
    rng = np.random.Generator(np.random.SFC64(seed))
    return np.sqrt(shape / rng.standard_gamma(shape, draws)).astype(np.float32)


def _play(outlook: Outlook, numbers: Numbers, noise: Singles, now_ms: float) -> Draws:
    pace = _pace(outlook, numbers, noise)
    _break(outlook, pace, numbers.trouble)
    next_ms = _wait(outlook, numbers)
    next_ms += np.float32(now_ms)
    finish_ms = pace * _column(np.exp(outlook.log_ms))
    finish_ms += next_ms
    return Draws(next_ms=next_ms, pace=pace, finish_ms=finish_ms)


def _column(values: Array) -> Singles:
    return values[:, None].astype(np.float32)


def _columns(*values: Array) -> Singles:
    return np.array(values, dtype=np.float32).T.copy()


def _pace(outlook: Outlook, numbers: Numbers, noise: Singles) -> Singles:
    pace: Singles = outlook.shared.astype(np.float32) @ numbers.field
    pace += numbers.own * _column(outlook.own_sd)
    pace *= np.float32(outlook.sigma) * noise
    return np.exp(pace, out=pace)


def _break(outlook: Outlook, pace: Singles, trouble: Singles) -> None:
    """Let some draws break down: those in most trouble, which have neither stopped nor are resting.

    By how much an exponential number exceeds a bound is exponential too, and says how bad it is.
    """
    cost = BREAK_SHARE + BREAK_MS / np.maximum(np.exp(outlook.log_ms), 5000.0)
    over = trouble + _column(np.log(np.maximum(outlook.breaking, 1e-30)))
    over.clip(0, np.inf, out=over)
    over *= _column(cost)
    over += 1
    pace *= over


def _wait(outlook: Outlook, numbers: Numbers) -> Singles:
    """The time from now to the next fact, given the silence so far; infinite for a lane that has stopped.

    A log-logistic wait at the quantile `share` from its end, that of a rest or the usual one.
    """
    wait, stop = outlook.wait, outlook.stopping
    law = np.less(numbers.chance, _column(stop + (1 - stop) * wait.rest_chance)).view(np.int8)
    law += np.less(numbers.chance, _column(stop)).view(np.int8)
    # Looked up in tables: np.where and masks branch at every draw, and what is drawn at random is seldom foreseen.
    at = law.astype(np.intp)
    at += 3 * np.arange(len(stop))[:, None]
    odds, power, median = _laws(outlook)
    found = odds.take(at, mode="clip")
    found /= numbers.share
    found -= 1
    found.clip(LEAST, np.inf, out=found)
    np.log(found, out=found)
    found *= power.take(at, mode="clip")
    found += median.take(at, mode="clip")
    np.exp(found, out=found)
    found -= _column(wait.waited_ms)
    return found.clip(0, np.inf, out=found)


def _laws(outlook: Outlook) -> tuple[Singles, Singles, Singles]:
    """Of the usual wait of each lane, of a rest and of one without an end (L, 3): one over the share that lasts longer
    than the lane has waited already, one over the sharpness, and the log of the median."""
    wait, none = outlook.wait, np.zeros_like(outlook.stopping)
    usual, rest = _odds(wait.waited_ms, wait.usual_ms, wait.usual_k), _odds(wait.waited_ms, wait.rest_ms, wait.rest_k)
    return (
        _columns(usual, rest, none + np.inf),
        _columns(1 / wait.usual_k, 1 / wait.rest_k, none + 1),
        _columns(np.log(wait.usual_ms), np.log(wait.rest_ms), none),
    )


def _odds(waited_ms: Array, median_ms: Array, k: Array) -> Array:
    """One over the share of such waits that last longer than they have already (L)."""
    return 1 + np.minimum((waited_ms / median_ms) ** k, 1e30)


def scored_at(legs: Legs, outlook: Outlook, lane: Indexes, spare_ms: Singles) -> Singles:
    """Scored reps of lanes still at work (M, indexes) when `spare_ms` (M) of usual pace remain after the next fact; −1
    where that never comes.

    When a rep scores is rounded to a 2,048th of the lane's work ahead, so that a table answers for every draw: a search
    would cost as much as all the random numbers.
    """
    if not (spare_ms >= 0).any():
        return np.full(len(lane), -1, dtype=np.float32)
    table, whole_ms = _table(legs, outlook)
    cell = spare_ms * (CELLS / whole_ms).astype(np.float32)[lane]
    cell += 1
    np.clip(cell, 0, CELLS, out=cell)
    at = cell.astype(np.intp)
    at += lane * table.shape[1]
    return table.reshape(-1)[at]


def _table(legs: Legs, outlook: Outlook) -> tuple[Singles, Array]:
    """Scored reps by lane and cell (L, 1 + CELLS), the first −1 for never; and the time CELLS cells stand for (L)."""
    lanes = np.arange(len(outlook.current))[:, None]
    first = np.minimum(outlook.current, len(legs.amount) - 1)
    start = (legs.done_after[first] - legs.amount[first] + outlook.next_units)[:, None]
    times = np.cumsum(outlook.ahead_ms, axis=1)
    whole_ms = np.maximum(times[:, -1:], 1e-3)
    # All lanes in one search: each lane's units are moved up past those of the lane before.
    beyond = lanes * (legs.done_after[-1] + 1)
    reached = np.concatenate((start, np.maximum(start, legs.done_after)), axis=1) + beyond
    after = np.concatenate((np.zeros_like(start), times / whole_ms), axis=1)
    at = np.interp((np.maximum(legs.scoring_units, start) + beyond).ravel(), reached.ravel(), after.ravel())
    cell = np.rint(at * CELLS).astype(np.intp).reshape(len(lanes), -1) + 1 + lanes * (2 + CELLS)
    gained = np.bincount(cell.reshape(-1), minlength=len(lanes) * (2 + CELLS)).reshape(len(lanes), 2 + CELLS)
    table = np.cumsum(gained[:, :-1], axis=1, dtype=np.float32)
    table[:, 0] = -1
    return table, whole_ms[:, 0]


def scored(legs: Legs, units: Array) -> Singles:
    """Scored reps of whole units done: a block counts when it is complete. Values below 0 stay below 0."""
    return legs.scored_by_unit[np.floor(units + 1e-6).astype(np.int64)]


def places(keys: Singles | Array | Ranks, *, first: int | None = None) -> Places:
    """Places (M, N) for keys (M, N) where smaller is better; equal keys share the better place.

    Of the `first` rows alone, where the others are only rivals. Sorting 4,000 short columns takes longer than comparing
    every row with the one after it, the one after that, and so on, in a ring: each time all rows are one long array.
    """
    placed = keys[:first]
    ring = np.concatenate((keys, placed))
    found = np.ones(placed.shape, dtype=np.int8 if len(keys) < 127 else np.int16)
    better = np.empty(placed.shape, dtype=np.bool_)
    for step in range(1, len(keys)):
        np.less(ring[step : step + len(placed)], placed, out=better)
        found += better.view(np.int8)
    return found


def place_chances(found: Places, rivals: int) -> Array:
    """The share of draws on each place 1 … rivals (L, rivals), for places (L, N)."""
    return np.array([np.bincount(row, minlength=rivals + 1)[1:] for row in found]) / found.shape[1]
