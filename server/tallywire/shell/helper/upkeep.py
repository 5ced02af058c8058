"""How the helper's own process has fared, and from that how long to wait: for an answer, and before the next one."""

from __future__ import annotations

from collections import Counter
from typing import Literal

from tallywire.shell.clock import Clock
from tallywire.shell.helper.port import Condition

PATIENCE_S, PATIENCE_MOST_S = 10.0, 80.0
"""So long an answer may take. A slow machine is not a process that hangs: each one that was ended for it gives the next
one twice as long."""
WAIT_S, WAIT_MOST_S = 0.2, 30.0
"""So long nothing is started after a process has ended, and twice as long after each further one."""
CALM_S = 60.0
"""A process that has answered for so long counts as sound."""
Why = Literal["died", "hung", "failed"]


class Upkeep:
    """Told of each process when it begins, when it stands, when it answers, and when it has ended."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._state: Literal["resting", "starting", "working", "away"] = "resting"
        self._pid: int | None = None
        self._ended: Counter[str] = Counter()
        self._ended_at_s: float | None = None
        self._stood_at_s = 0.0
        self._next_wait_s = WAIT_S
        self.patience_s = PATIENCE_S
        self.wait_s = 0.0

    def begins(self) -> None:
        """A process is started."""
        if self._state == "resting":
            self._state = "starting"

    def stands(self, pid: int) -> None:
        """It can be asked."""
        self._state, self._pid, self._stood_at_s = "working", pid, self._clock.now()

    def answered(self) -> None:
        """It has answered."""
        if self._clock.now() - self._stood_at_s > CALM_S:
            self._next_wait_s, self.patience_s = WAIT_S, PATIENCE_S

    def ended(self, why: Why) -> None:
        """It has ended, or was ended because it hung."""
        self._state, self._pid, self._ended_at_s = "away", None, self._clock.now()
        self._ended[why] += 1
        self.wait_s, self._next_wait_s = self._next_wait_s, min(2 * self._next_wait_s, WAIT_MOST_S)
        if why == "hung":
            self.patience_s = min(2 * self.patience_s, PATIENCE_MOST_S)

    def condition(self) -> Condition:
        """Say how it is now."""
        ago_s = None if self._ended_at_s is None else self._clock.now() - self._ended_at_s
        return Condition(where="process", state=self._state, pid=self._pid, ended=self._ended, ended_s=ago_s)
