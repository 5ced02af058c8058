"""Timing ways of doing something turn and turn about, so that other work on the machine falls on all of them."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from tallywire.measure.figures import Figure
from tallywire.measure.scale import Scale


def in_turn(ways: Mapping[str, Callable[[], float]], scale: Scale) -> dict[str, Figure]:
    """Let each way measure itself once to warm up, which does not count, and then several times in turn."""
    found: dict[str, list[float]] = {name: [] for name in ways}
    if not scale.quick:
        for act in ways.values():
            act()
    for _ in range(scale.repeats):
        for name, act in ways.items():
            found[name].append(act())
    return {name: Figure.of(values) for name, values in found.items()}


def work_ms(act: Callable[[], object], *, times: int = 1) -> float:
    """Give the processor milliseconds of all threads of this process that one call takes, on average of several."""
    begun = time.process_time()
    for _ in range(times):
        act()
    return (time.process_time() - begun) * 1000 / times
