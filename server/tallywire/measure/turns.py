"""Timing ways of doing something turn and turn about, so that other work on the machine falls on all of them."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from tallywire.measure.figures import Figure
from tallywire.measure.scale import Scale

MADE = "made"
"""The part of a stage that is meant where it has no others."""


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


class StopWatch:
    """How long each stage took, every time, in microseconds of this thread's processor time."""

    def __init__(self) -> None:
        self.laps: dict[tuple[str, str], list[float]] = {}
        self._since = 0.0

    def begin(self) -> None:
        """Begin the next stage now."""
        self._since = time.thread_time()

    def lap(self, stage: str, part: str = MADE) -> None:
        """End this stage, and begin the next one."""
        now = time.thread_time()
        self.laps.setdefault((stage, part), []).append((now - self._since) * 1e6)
        self.begin()
