"""The embedded journal: one SQLite file, no server. The port's promises are in port.py."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Self

from tallywire.shell.journal.committer import Committer
from tallywire.shell.journal.line_file import LineFile, open_lines
from tallywire.shell.journal.port import Draft, Line

_CHUNK = 2000


class SqliteJournal:
    """A Journal in an SQLite file (WAL, every commit synced), held by one process at a time.

    Its thread shares the interpreter with the event loop. A server whose loop computes for milliseconds at a time
    should call `sys.setswitchinterval(0.0005)` when it starts: with the usual 5 ms such a loop kept the thread waiting
    for seconds, with 0.5 ms for some ten milliseconds (tests/shell/bench_journal.py).
    """

    def __init__(self, committer: Committer) -> None:
        self._committer = committer

    @classmethod
    def open(cls, path: Path, *, factory: type[sqlite3.Connection] = sqlite3.Connection) -> Self:
        """Open the journal at `path`, creating it if it is missing; blocks while its lines are counted.

        `factory` makes the connection: a test passes one that fails or waits where it wants. Raises JournalFailed
        when another process has the journal open, when the file is not a journal of this version, misses lines,
        or lies where writes cannot be made durable.
        """
        committer = Committer(partial(open_lines, path, factory))
        # The thread opens the file; its first answer says whether it could.
        committer.call(lambda _file: None)
        return cls(committer)

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write the drafts in order, all or none, and return their lines once they are durable."""
        return await self._committer.append(tuple(drafts), received_unix_ms)

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines above `after` in order, those appended meanwhile too; blocks for each chunk of 2,000."""
        while chunk := self._committer.call(partial(LineFile.read, after=after, limit=_CHUNK)):
            yield from chunk
            after = chunk[-1].number

    def last(self) -> int:
        """Give the number of the last line, 0 when there is none."""
        return self._committer.call(lambda file: file.last)

    def bodies(self, *, until: int | None = None) -> list[bytes]:
        """Give the bodies of the accepted lines in order, up to line `until`; blocks, chunk by chunk.

        Faster than `read` for those who want nothing but the facts.
        """
        last = self.last() if until is None else until
        chunks = range(0, last, _CHUNK)
        return [
            body
            for after in chunks
            for body in self._committer.call(partial(LineFile.bodies, after=after, until=min(after + _CHUNK, last)))
        ]

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return self._committer.call(LineFile.watermarks)

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        return self._committer.call(lambda file: file.note(key))

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        self._committer.call(lambda file: file.set_note(key, value))

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        return self._committer.call(LineFile.notes)

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        return self._committer.call(lambda file: file.head_at(number))

    async def close(self) -> None:
        """Finish what was queued, then release the file. Nothing is accepted or read afterwards."""
        await self._committer.close()
