"""Facts whose time has not come yet by the server's clock: somebody's clock is wrong, and the table is told."""

from __future__ import annotations

from tallywire.core.errors import AheadOfClock
from tallywire.core.facts import LaneFact
from tallywire.core.fold.snapshot import Snapshot
from tallywire.wire.roles import ROLES
from tallywire.wire.senders import Received

AHEAD_MS = 1000
"""So far ahead a stamp may be, beside what its sender says of it: twenty times what a good pad is off."""
QUIET_MS = 10_000
"""How long nothing more is said of a sender."""


class AheadWatch:
    """Looks at what comes in. Times are Unix milliseconds."""

    def __init__(self) -> None:
        self._told: dict[str, int] = {}

    def look(self, entry: Received, snapshot: Snapshot, *, rate: float = 1) -> AheadOfClock | None:
        """Say that a count is ahead of its heat's clock; None when it is not, or when that was said of its sender.

        `rate` is how fast heat clocks run; nothing is ahead of one that stands.
        """
        fact = entry.fact
        if not isinstance(fact, LaneFact) or not _counts(entry.sender) or not _by_its_clock(fact, snapshot) or not rate:
            return None
        ahead_ms = round((fact.at_ms - snapshot.heats[fact.heat].clock_ms) / rate)
        if ahead_ms <= AHEAD_MS + (fact.uncertain_ms or 0):
            return None
        if snapshot.unix_ms - self._told.get(fact.sender, -QUIET_MS) < QUIET_MS:
            return None
        self._told[fact.sender] = snapshot.unix_ms
        return AheadOfClock(
            f"lane {fact.lane}: found a touch of {fact.sender} {ahead_ms / 1000:.1f} s ahead of the server's clock, "
            "expected none: load its page again, and compare its count"
        )


def _counts(sender: str) -> bool:
    role = ROLES.get(sender.partition("-")[0])
    return role is not None and role.counts


def _by_its_clock(fact: LaneFact, snapshot: Snapshot) -> bool:
    """Tell whether a touch was told by the clock that runs now: one that names a false start was not."""
    started = snapshot.heats[fact.heat].started
    return started is not None and fact.start in (None, started.id)
