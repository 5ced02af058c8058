"""Taps at a rate, and how long each takes until the last of everybody has its frame."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from math import ceil
from statistics import median

from tallywire.measure.figures import Figure
from tallywire.measure.machine import resident_bytes, worked_ms
from tallywire.measure.plug import Crowd
from tallywire.measure.scale import Scale
from tallywire.measure.turns import in_turn
from tallywire.measure.ways import Way

RATE = 20
"""Taps a second, slower than the fastest frames: each tap has a frame of its own."""
_FEWEST = 3
_PATIENCE = 2
"""A round whose taps cannot keep the rate ends after so many times its time."""


@dataclass(frozen=True, slots=True)
class Round:
    """What some taps took: the server's processor time for each frame that it delivered, and the wait for the last."""

    us_a_frame: float
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

    def grow(self, clients: int) -> None:
        """Let clients come until there are so many; nothing that was measured before counts any more."""
        self.crowd.join(self.way.port, self.way.path, self.way.asks, clients - len(self.crowd))
        self.rounds.clear()

    def attend(self) -> None:
        """Read what has come, so that nobody is taken for dead while others have their turn."""
        self.crowd.settle(0)
        self.way.attend()

    def round(self, taps: int) -> float:
        """Tap so often, less often where that takes too long, and give the processor time for a frame."""
        self.attend()
        waits, begun, before = list[float](), time.perf_counter(), worked_ms(self.way.pid)
        until, due = begun + _PATIENCE * taps / RATE, begun
        while len(waits) < taps and (len(waits) < _FEWEST or due < until):
            time.sleep(max(0.0, due - time.perf_counter()))
            waits.append(self._tap())
            due = max(due + 1 / RATE, time.perf_counter())
        worked = worked_ms(self.way.pid) - before
        self.rounds.append(Round(worked * 1000 / len(waits) / len(self.crowd), tuple(waits)))
        return self.rounds[-1].us_a_frame

    def _tap(self) -> float:
        """Tap, and give the milliseconds until everybody has the frame."""
        self.crowd.settle(0)
        wanted, begun = self.crowd.texts + len(self.crowd), time.perf_counter()
        self.way.tap()
        self.crowd.hear(wanted)
        return (time.perf_counter() - begun) * 1000

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


def rounds_in_turn(found: Mapping[str, Watched], taps: int, scale: Scale) -> dict[str, Figure]:
    """Tap all ways in turn, and give the processor time for a frame of each."""

    def act(one: Watched) -> float:
        for each in found.values():
            each.attend()
        return one.round(taps)

    return in_turn({name: partial(act, each) for name, each in found.items()}, scale)
