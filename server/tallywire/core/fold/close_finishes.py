"""Finishes that taps cannot tell apart: nearer to each other than the times of both can be off."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from tallywire.core.fold.snapshot import HeatSnapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseFinish:
    """Two lanes, the better one first, how far apart they finished, and how far off both times together can be."""

    lanes: tuple[int, int]
    apart_ms: int
    within_ms: int


def close_finishes(heat: HeatSnapshot) -> Sequence[CloseFinish]:
    """Give every pair of finishes in a division too close to call from taps. Penalties are no taps, and left out."""
    return heat.once("close finishes", lambda: _found(heat))


def _found(heat: HeatSnapshot) -> list[CloseFinish]:
    return [each for lanes in heat.divisions.values() for each in _among(heat, lanes)]


def _among(heat: HeatSnapshot, lanes: Iterable[int]) -> list[CloseFinish]:
    finished: list[tuple[int, int, int]] = []
    for lane in lanes:
        state = heat.state.lanes[lane]
        if state.finish_ms is not None:
            at_ms = state.finish_ms - state.conduct.penalty_ms
            finished.append((at_ms, lane, heat.uncertain_ms(lane, at_ms)))
    pairs = combinations(sorted(finished), 2)
    found = [
        CloseFinish(lanes=(one, other), apart_ms=later - at_ms, within_ms=off + other_off)
        for (at_ms, one, off), (later, other, other_off) in pairs
    ]
    return [each for each in found if each.apart_ms <= each.within_ms and each.within_ms]
