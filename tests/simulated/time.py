"""The world's time: nothing moves but by `next`, and the wall clock may be set."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count

from tallywire.shell.clock import Timer

START_UNIX_MS = 1_800_000_000_000


class _Call:
    def __init__(self, act: Callable[[], None]) -> None:
        self.act: Callable[[], None] | None = act

    def cancel(self) -> None:
        self.act = None


class WorldClock:
    """A Clock (shell/clock.py) on which calls happen one at a time, in order."""

    def __init__(self) -> None:
        self._now = 0.0
        self._set_by_ms = 0
        self._tie = count()
        self._calls: list[tuple[float, int, _Call]] = []

    def unix_ms(self) -> int:
        """Give wall time."""
        return START_UNIX_MS + self._set_by_ms + round(self._now * 1000)

    def now(self) -> float:
        """Give the seconds since the world began."""
        return self._now

    def call_at(self, when: float, act: Callable[[], None]) -> Timer:
        """Have something happen then."""
        call = _Call(act)
        heapq.heappush(self._calls, (when, next(self._tie), call))
        return call

    def after(self, seconds: float, act: Callable[[], None]) -> Timer:
        """Have something happen in so many seconds."""
        return self.call_at(self._now + seconds, act)

    def set_by(self, ms: int) -> None:
        """Set the wall clock forward or back."""
        self._set_by_ms += ms

    def next(self, *, until: float) -> bool:
        """Make the next call if it is due by then; False when there is no such call."""
        while self._calls and self._calls[0][0] <= until:
            when, _, call = heapq.heappop(self._calls)
            self._now = max(self._now, when)
            if call.act is not None:
                call.act()
                return True
        self._now = max(self._now, until)
        return False
