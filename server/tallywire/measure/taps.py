"""Taps at a rate, and how long each takes until the last of everybody has its frame."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import ceil
from statistics import median

from tallywire.measure.figures import Figure
from tallywire.measure.machine import resident_bytes, worked_ms
from tallywire.measure.plug import Crowd
from tallywire.measure.ways import Way

RATE = 20
"""Taps a second, slower than the fastest frames: each tap has a frame of its own."""


@dataclass(frozen=True, slots=True)
class Round:
    """What some taps took: the server's processor time for each frame that it delivered, and the wait for the last."""

    us_a_frame: float
    ms_a_tap: float
    waits_ms: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Waits:
    """Milliseconds until the last has its frame: the median of each round, and what 99 % of all taps keep within."""

    half: Figure
    most: Figure


class Watched:
    """A way and the crowd that watches it, and everything that was measured of them."""

    def __init__(self, way: Way, crowd: Crowd) -> None:
        self.way, self.crowd = way, crowd
        self.rounds: list[Round] = []
        self.more = 0
        """Frames that came without a tap."""

    def grow(self, clients: int) -> None:
        """Let clients come until there are so many; nothing that was measured before counts any more."""
        self.crowd.join(self.way.port, self.way.path, self.way.asks, clients - len(self.crowd))
        self.rounds.clear()

    def round(self, taps: int) -> float:
        """Tap so often and give the processor time for a frame."""
        self.crowd.settle(0)
        waits, due, before = list[float](), time.perf_counter(), worked_ms(self.way.pid)
        for _ in range(taps):
            time.sleep(max(0.0, due - time.perf_counter()))
            self.more += self.crowd.settle(0)
            wanted, begun = self.crowd.texts + len(self.crowd), time.perf_counter()
            self.way.tap()
            self.crowd.hear(wanted)
            waits.append((time.perf_counter() - begun) * 1000)
            due = max(due + 1 / RATE, time.perf_counter())
        worked = worked_ms(self.way.pid) - before
        self.rounds.append(Round(worked * 1000 / taps / len(self.crowd), worked / taps, tuple(waits)))
        return self.rounds[-1].us_a_frame

    def waits(self, rounds: int) -> Waits:
        """Give how long it took in the last rounds."""
        counted = [each.waits_ms for each in self.rounds[-rounds:]]
        every = sorted(wait for each in counted for wait in each)
        return Waits(Figure.of(map(median, counted)), Figure.of([every[ceil(0.99 * len(every)) - 1]]))

    @property
    def resident_mib(self) -> float:
        """The memory of the server now."""
        return resident_bytes(self.way.pid) / 2**20


@contextmanager
def watched(way: Way, clients: int) -> Iterator[Watched]:
    """Let a crowd watch a way."""
    crowd = Crowd()
    try:
        found = Watched(way, crowd)
        found.grow(clients)
        yield found
    finally:
        crowd.close()
