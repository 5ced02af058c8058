"""The newest acknowledged lines, kept in memory: a server that comes back without them is given them again."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence

from tallywire.core.errors import JournalDamaged
from tallywire.shell.journal.chain import GENESIS, chained
from tallywire.shell.journal.port import Line

TAIL_MOST = 16_384
"""So many lines are kept: far more than the two seconds that a server may lose which syncs once a second."""


class Tail:
    """The lines after number `before`, whose chain is `head`: as many of the newest as are kept."""

    def __init__(self, before: int, head: bytes | None, *, most: int = TAIL_MOST) -> None:
        self._before = before
        self._head = head or GENESIS
        self._lines: deque[Line] = deque()
        self._most = most

    def add(self, lines: Sequence[Line]) -> None:
        """Keep lines that were acknowledged, and forget the oldest."""
        self._lines.extend(lines)
        while len(self._lines) > self._most:
            oldest = self._lines.popleft()
            self._before, self._head = oldest.number, chained(self._head, oldest)

    def missing(self, last: int, head_at: Callable[[int], bytes | None]) -> list[Line]:
        """Give the acknowledged lines that a journal lacks which ends in line `last`; `head_at` gives its chain.

        Raises JournalDamaged when it is not the beginning of what was acknowledged, or lacks more than is kept.
        """
        there = [line for line in self._lines if line.number <= last]
        number, head = self._before, self._head
        for line in there:
            number, head = line.number, chained(head, line)
        if last < self._before or head_at(number) != head:
            raise JournalDamaged(
                f"found a journal that came back with {last} lines, not all of them those acknowledged up to line "
                f"{self._before + len(self._lines)}: restore its server's files, and start again"
            )
        return list(self._lines)[len(there) :]
