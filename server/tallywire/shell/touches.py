"""What the times of a counter's touches say of it: double touches, and a pace that cannot be true."""

from __future__ import annotations

from collections import deque

DOUBLE_MS = 250
"""Two touches nearer than this, and than half a rep, are one finger that bounced (common practice, no source)."""
RUN = 5
FAST = 0.3
"""So many reps in a row in less than this share of their expected time are too fast to be true (no source)."""


class Touches:
    """The last touches of one counter, as it stamped them: milliseconds on the heat clock."""

    def __init__(self) -> None:
        self._at_ms: deque[int] = deque(maxlen=RUN + 1)
        self._expected_ms = 0

    def take(self, at_ms: int, expected_ms: int) -> str | None:
        """Take a touch that is worth one rep, expected to take so long; name the alarm that it raises, if it does.

        A run is of one movement: the first touch of a slow one does not make the quick ones before it too fast.
        """
        last = self._at_ms[-1] if self._at_ms else None
        if expected_ms != self._expected_ms:
            self._at_ms.clear()
            self._expected_ms = expected_ms
        self._at_ms.append(at_ms)
        if last is not None and 0 <= at_ms - last < min(DOUBLE_MS, expected_ms // 2):
            return "double"
        run_ms = at_ms - self._at_ms[0]
        if len(self._at_ms) == RUN + 1 and 0 <= run_ms < RUN * expected_ms * FAST:
            return "too_fast"
        return None
