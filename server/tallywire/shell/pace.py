"""How the time of a recording passes while it is rehearsed: at any speed, standing still, or from another moment on.

The facts of a rehearsal tell the time by the wall clock of their day, moved so that the recording begins now. A pace
says what that clock shows at a wall time of ours. Live, both are the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from tallywire.core.facts import ASIDE, Fact, HeatCalled, HeatRecalled, HeatStarted

Frame = dict[str, Any]
_TIMED = (HeatStarted, HeatCalled, HeatRecalled, *ASIDE)
_SAID = frozenset({"zero_unix_ms", "started_unix_ms", "unix_ms"})
"""The fields of frames that have a wall time from a fact."""
_TIMED_PARTS = frozenset({"clock", "day", "heats", "outputs", "notes"})
"""The parts of frames that have such fields."""


@dataclass(frozen=True, slots=True)
class Pace:
    """The recorded time was `recorded_ms` when wall time was `unix_ms`, both in Unix milliseconds.

    It passes `rate` times as fast as ours; at 0 it stands still.
    """

    unix_ms: int = 0
    recorded_ms: int = 0
    rate: float = 1

    def recorded_at(self, unix_ms: int) -> int:
        """Give the recorded time at a wall time."""
        return self.recorded_ms + round((unix_ms - self.unix_ms) * self.rate)

    def unix_of(self, recorded_ms: int) -> int:
        """Give the wall time at which the recorded time comes to this; that of the pace itself where it stands."""
        return self.unix_ms + (round((recorded_ms - self.recorded_ms) / self.rate) if self.rate else 0)

    def seconds_until(self, recorded_ms: int, *, unix_ms: int) -> float | None:
        """Give how long it is from a wall time until the recorded time comes to this; None where it stands."""
        return (recorded_ms - self.recorded_at(unix_ms)) / 1000 / self.rate if self.rate else None

    def taken(self, fact: Fact) -> Fact:
        """Give a fact that says a wall time of ours, as it was sent, with the recorded time instead."""
        return replace(fact, unix_ms=self.recorded_at(fact.unix_ms)) if isinstance(fact, _TIMED) else fact

    def told(self, frame: Frame) -> Frame:
        """Give a frame in which every time that a fact said is the wall time of ours, which is what pages know."""
        is_live = self.rate == 1 and self.unix_ms == self.recorded_ms
        if is_live:
            return frame
        return {name: self._told(name, value) if name in _TIMED_PARTS else value for name, value in frame.items()}

    def _told(self, name: str, value: Any) -> Any:
        if isinstance(value, dict):
            inner = {key: self._told(key, each) for key, each in value.items()}
            return inner | self._stands(value) if name == "clock" and not self.rate else inner
        if isinstance(value, list):
            return [self._told("", each) for each in value]
        return self.unix_of(value) if name in _SAID else value

    def _stands(self, clock: Frame) -> Frame:
        """What a clock that stands shows."""
        zero_ms = clock.get("zero_unix_ms")
        return {} if zero_ms is None else {"zero_at_ms": clock["zero_at_ms"] + self.recorded_ms - zero_ms}
