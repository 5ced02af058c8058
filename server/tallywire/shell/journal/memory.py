"""A journal in memory: it keeps the contract without a disk, for tests of code that uses a journal."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Mapping, Sequence

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.port import Draft, Line, check_same_note


class MemoryJournal:
    """A Journal in a list; nothing outlives it."""

    def __init__(self) -> None:
        self._lines: list[Line] = []
        self._notes: dict[str, str] = {}
        self._used: set[tuple[str, int]] = set()
        self._refusal: str | None = None

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Keep the drafts in order, all or none, and return their lines."""
        self._check()
        self._claim([(draft.sender, draft.sequence) for draft in drafts])
        first = len(self._lines) + 1
        lines = [draft.as_line(first + n, received_unix_ms=received_unix_ms) for n, draft in enumerate(drafts)]
        self._lines.extend(lines)
        # As with a disk, other tasks run before the caller gets its answer.
        await asyncio.sleep(0)
        return lines

    def _check(self) -> None:
        if self._refusal is not None:
            raise JournalFailed(self._refusal)

    def _claim(self, keys: Sequence[tuple[str, int]]) -> None:
        if len(set(keys)) < len(keys) or not self._used.isdisjoint(keys):
            self._refusal = "the journal failed (a sender's sequence was used twice): stop and start again"
        self._check()
        self._used.update(keys)

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines above `after` in order, those appended meanwhile too."""
        self._check()
        while after < len(self._lines):
            yield self._lines[after]
            after += 1

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        self._check()
        marks: dict[str, int] = {}
        for line in self._lines:
            marks[line.sender] = max(line.sequence, marks.get(line.sender, line.sequence))
        return marks

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        self._check()
        return self._notes.get(key)

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, unless another value is there: JournalFailed."""
        self._check()
        check_same_note(key, kept=self._notes.setdefault(key, value), value=value)

    async def close(self) -> None:
        """Refuse everything from now on."""
        self._refusal = self._refusal or "the journal is closed: open it again"
