"""How much one client may say: a token bucket."""

from __future__ import annotations


class Allowance:
    """`rate` messages a second on average, `burst` of them at once. Time is an argument, in seconds."""

    def __init__(self, *, rate: float, burst: float) -> None:
        self._rate = rate
        self._burst = burst
        self._left = burst
        self._seen: float | None = None

    def spend(self, now: float) -> bool:
        """Take one message out of the bucket; False when it is empty."""
        since = 0.0 if self._seen is None else max(0.0, now - self._seen)
        self._seen = now
        self._left = min(self._burst, self._left + since * self._rate)
        if self._left < 1:
            return False
        self._left -= 1
        return True
