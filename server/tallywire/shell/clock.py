"""Time as a port: the wall clock and deadlines."""

from __future__ import annotations

import asyncio
import heapq
import time
from collections.abc import Callable
from itertools import count
from typing import Protocol

_READINGS = 20
"""Of a pair of clocks, one of which counts."""


class Timer(Protocol):
    """A call that is still to come."""

    def cancel(self) -> None:
        """Call it off."""
        ...


class Clock(Protocol):
    """What the server needs of a clock."""

    def unix_ms(self) -> int:
        """Give wall time: Unix milliseconds. It may jump when the machine's clock is set."""
        ...

    def now(self) -> float:
        """Give seconds since some unknown start; they never run backwards."""
        ...

    def call_at(self, when: float, act: Callable[[], None]) -> Timer:
        """Call `act` when `now()` has reached `when`."""
        ...


class SystemClock:
    """The machine's clock as it was when this was made, going on by one that is never set.

    A wall clock that is set in mid-heat, by an hour or by a second, does not move a heat's clock: kept_clock.py says
    when it counts. Deadlines are kept by the running event loop.
    """

    def __init__(
        self, *, wall_ns: Callable[[], int] = time.time_ns, steady_ns: Callable[[], int] = time.monotonic_ns
    ) -> None:
        self._steady_ns = steady_ns
        # A process that is stopped between the two readings makes the difference too small, never too large.
        self._apart_ns = max(wall_ns() - steady_ns() for _ in range(_READINGS))

    def unix_ns(self) -> int:
        """Give wall time in nanoseconds."""
        return self._apart_ns + self._steady_ns()

    def set_ns(self, unix_ns: int) -> None:
        """Go on from this wall time."""
        self._apart_ns = unix_ns - self._steady_ns()

    def unix_ms(self) -> int:
        """Give wall time."""
        return self.unix_ns() // 1_000_000

    def now(self) -> float:
        """Give the event loop's time: asyncio's asks this clock too, and asking it takes five times as long."""
        return time.monotonic()

    def call_at(self, when: float, act: Callable[[], None]) -> Timer:
        """Ask the event loop to call."""
        return asyncio.get_running_loop().call_at(when, act)


class _Call:
    def __init__(self, act: Callable[[], None]) -> None:
        self.act: Callable[[], None] | None = act

    def cancel(self) -> None:
        self.act = None


class FakeClock:
    """A clock that stands still until it is told to jump; deadlines on the way are met in their order."""

    def __init__(self, *, unix_ms: int = 1_800_000_000_000) -> None:
        self._unix_ms = unix_ms
        self._now = 0.0
        self._tie = count()
        self._calls: list[tuple[float, int, _Call]] = []

    def unix_ms(self) -> int:
        """Give wall time, which jumps along with `now`."""
        return self._unix_ms + round(self._now * 1000)

    def now(self) -> float:
        """Give the seconds jumped so far."""
        return self._now

    def call_at(self, when: float, act: Callable[[], None]) -> Timer:
        """Keep the call for a jump."""
        call = _Call(act)
        heapq.heappush(self._calls, (when, next(self._tie), call))
        return call

    def jump(self, seconds: float) -> None:
        """Let time pass, and make the calls that fall due."""
        end = self._now + seconds
        while self.next(until=end):
            pass

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
