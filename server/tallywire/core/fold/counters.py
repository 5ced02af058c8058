"""Two counters on one lane: the main one counts, the backup is held against it, and a disagreement is raised.

A backup's facts never change a count, and the two are never averaged: which of them is right, people decide.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from tallywire.core.facts import Fact

BACKUP = "backup"
"""The role whose facts are a backup's, and with a hyphen the beginning of its senders' names."""
_BACKUPS = f"{BACKUP}-"
BOUND = 2
"""Scored reps: a difference above this is raised at once. Two judges are one rep apart during each rep (common
practice, no source)."""
WINDOW_MS = 10_000
"""A smaller difference is raised when the counters differed for most of this time."""


def of_backup(fact: Fact) -> bool:
    """Tell whether a fact is a backup's."""
    return fact.sender.startswith(_BACKUPS)


def backups_among(senders: Iterable[str]) -> set[str]:
    """Give those of these senders that are a backup's."""
    return {sender for sender in senders if sender.startswith(_BACKUPS)}


class Comparison:
    """The difference of two counters over time. Times are milliseconds of one clock that runs forwards."""

    def __init__(self) -> None:
        self._noted: deque[tuple[int, bool]] = deque()
        self._difference = 0

    def note(self, main: int, backup: int, at_ms: int) -> None:
        """Note what both have counted now."""
        self._difference = main - backup
        self._noted.append((at_ms, main != backup))
        while len(self._noted) > 1 and self._noted[1][0] <= at_ms - WINDOW_MS:
            self._noted.popleft()

    def is_raised(self, at_ms: int) -> bool:
        """Tell whether they differ by too much, or have differed for too long."""
        if self._difference == 0:
            return False
        return abs(self._difference) > BOUND or self._differed_ms(at_ms) > WINDOW_MS // 2

    def _differed_ms(self, at_ms: int) -> int:
        ends = [*[at for at, _ in self._noted][1:], at_ms]
        first = at_ms - WINDOW_MS
        return sum(
            max(0, end - max(begin, first)) for (begin, differs), end in zip(self._noted, ends, strict=True) if differs
        )
