"""Silence counts: how long the next fact will take, given how long nothing has come.

The wait is log-logistic, S(t) = 1 / (1 + (t / m)^k), which can be conditioned on having lasted e already in closed
form: with u uniform, t = m ((1 + (e / m)^k) / u − 1)^(1/k). A second, longer such law stands for a rest or a stumble;
the longer nothing comes, the more likely it is that one, and the longer it will go on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tallywire.core.forecast.legs import Legs
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.reading import Reading

Flags = np.ndarray[tuple[int], np.dtype[np.bool_]]

SHARPNESS = np.pi / np.sqrt(3)
"""k = π / (√3 · standard deviation of the log), of the log-logistic distribution."""
UNIT_SD = 0.30
FIRST_UNIT_SD = 0.35
REST_CHANCE = 0.06
REST_MS = 8000.0
REST_K = 2.5
STUMBLE = 1.2
STUMBLE_K = 4.0
"""The wait between units varies by 30 %, the one with a transition by 35 %. Six in a hundred are rests with a median
8 s longer and a heavy tail; a block that runs into trouble takes a fifth and 8 s more (judged from practice, no source;
docs/forecast-model.md shows what they lead to)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """The wait for the next fact (L): medians and sharpness of the usual wait and of a rest, the chance of a rest given
    `waited_ms` of silence, and `left`, the probability that a wait lasts longer than that.
    """

    usual_ms: Array
    usual_k: Array
    rest_ms: Array
    rest_k: Array
    rest_chance: Array
    waited_ms: Array
    left: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class NextFact:
    """What the next fact brings: `units` of the current leg done (L), the `share` of its time (L), and whether it
    completes the `whole` leg (L), as with a single unit or a block."""

    units: Array
    share: Array
    whole: Flags


def next_fact(legs: Legs, reading: Reading) -> NextFact:
    """Give what the next fact of every lane brings."""
    amount, before = legs.amount[reading.at], reading.transition[reading.at]
    whole = np.asarray((legs.block[reading.at] & (reading.into == 0)) | (amount == 1))
    units = np.where(whole, amount, np.minimum(reading.into + 1, amount))
    return NextFact(units=units, share=np.where(whole, 1.0, before + (1 - before) * units / amount), whole=whole)


def wait_for(reading: Reading, following: NextFact, leg_ms: Array, leg_var: Array, *, now_ms: float) -> Wait:
    """Give the wait for the next fact from the legs' median times and the variances of their logs (L, K)."""
    lane, at, whole = np.arange(len(reading.current)), reading.at, following.whole
    usual = np.maximum(leg_ms[lane, at] * (following.share - reading.share), 1.0)
    inside = np.where(reading.into == 0, FIRST_UNIT_SD, UNIT_SD)
    usual_k = SHARPNESS / np.maximum(np.where(whole, np.sqrt(leg_var[lane, at]), inside), 0.03)
    rest = np.where(whole, STUMBLE, 1.0) * usual + REST_MS
    rest_k = np.where(whole, STUMBLE_K, REST_K)
    waited = np.maximum(0.0, now_ms - reading.last_ms)
    still_rest = REST_CHANCE * survival(waited, rest, rest_k)
    left = (1 - REST_CHANCE) * survival(waited, usual, usual_k) + still_rest
    return Wait(
        usual_ms=usual,
        usual_k=usual_k,
        rest_ms=rest,
        rest_k=rest_k,
        rest_chance=still_rest / left,
        waited_ms=waited,
        left=left,
    )


def survival(waited: Array, median: Array, k: Array) -> Array:
    """The share of log-logistic waits that last longer than `waited`."""
    return np.asarray(np.exp(-np.logaddexp(0.0, k * np.log(np.maximum(waited, 1e-3) / median))))
