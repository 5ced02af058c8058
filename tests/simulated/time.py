"""The world's time: nothing moves but by `next`, and the wall clock may be set."""

from __future__ import annotations

from collections.abc import Callable

from tallywire.shell.clock import FakeClock, Timer

START_UNIX_MS = 1_800_000_000_000


class WorldClock(FakeClock):
    """A clock on which calls happen one at a time, in order."""

    def __init__(self) -> None:
        super().__init__(unix_ms=START_UNIX_MS)
        self._set_by_ms = 0

    def unix_ms(self) -> int:
        """Give wall time."""
        return super().unix_ms() + self._set_by_ms

    def after(self, seconds: float, act: Callable[[], None]) -> Timer:
        """Have something happen in so many seconds."""
        return self.call_at(self.now() + seconds, act)

    def set_by(self, ms: int) -> None:
        """Set the wall clock forward or back."""
        self._set_by_ms += ms
