"""How much one client, link or address may do: a token bucket."""

from __future__ import annotations


class Allowance:
    """`rate` tokens a second on average, `burst` of them at once. Time is an argument, in seconds."""

    def __init__(self, *, rate: float, burst: float) -> None:
        self._rate = rate
        self._burst = burst
        self._left = burst
        self._seen: float | None = None

    def spend(self, now: float) -> bool:
        """Take one token out of the bucket; False when it is empty."""
        self._fill(now)
        if self._left < 1:
            return False
        self._left -= 1
        return True

    def owe(self, tokens: float, now: float) -> None:
        """Take tokens out of the bucket though it may not have as many: `wait_s` says until when they are owed."""
        self._fill(now)
        self._left -= tokens

    def wait_s(self, now: float, *, tokens: float = 0) -> float:
        """Give the seconds until the bucket has so many tokens; 0 when it has them."""
        self._fill(now)
        return max(0.0, tokens - self._left) / self._rate

    def _fill(self, now: float) -> None:
        since = 0.0 if self._seen is None else max(0.0, now - self._seen)
        self._seen = now
        self._left = min(self._burst, self._left + since * self._rate)
