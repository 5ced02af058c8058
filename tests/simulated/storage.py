"""The server's journal in a world: the program's own file on a simulated disk, its commits taking simulated time."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, suppress
from pathlib import Path
from random import Random

from simulated.disk import Contents, Disk
from simulated.time import WorldClock
from tallywire.core.errors import JournalFailed, JournalFull
from tallywire.shell.journal.line_file import LineFile, is_full, open_lines
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.journal.seal import LAG_S


class Unplugged(Exception):
    """Ends the use of a file without its closing in order."""


class WorldJournal:
    """A Journal over a LineFile. What the committer's thread does at its own time happens here at the clock's."""

    def __init__(self, path: Path, factory: type[sqlite3.Connection], *, clock: WorldClock, dice: Random) -> None:
        """Open the file. Raises JournalFailed."""
        self._clock = clock
        self._dice = dice
        self._open: AbstractContextManager[LineFile] = open_lines(path, factory)
        self.file = self._open.__enter__()
        self.answered = self.file.last
        self.in_flight = False
        self.is_gone = False
        self._seal_due = self._has_failed = False

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write after a while, and answer after another."""
        lines: asyncio.Future[Sequence[Line]] = asyncio.get_running_loop().create_future()
        self.in_flight = True
        self._later(lambda: self._commit(drafts, received_unix_ms, lines))
        return await lines

    def _later(self, act: Callable[[], None]) -> None:
        self._clock.after(self._dice.choice((0.0, 0.001, 0.02, 0.3)), act)

    def _commit(self, drafts: Sequence[Draft], received: int, lines: asyncio.Future[Sequence[Line]]) -> None:
        if self.is_gone:
            return
        try:
            written = self.file.write([(drafts, received)])[0]
        except sqlite3.Error as exc:
            self.in_flight, self._has_failed = False, True
            kind = JournalFull if is_full(exc) else JournalFailed
            lines.set_exception(kind(f"the journal failed ({exc})"))
            return
        self._later(lambda: self._answer(written, lines))
        if not self._seal_due:
            self._seal_due = True
            self._clock.after(LAG_S, self._force_seal)

    def _answer(self, written: Sequence[Line], lines: asyncio.Future[Sequence[Line]]) -> None:
        if not self.is_gone:
            self.in_flight, self.answered = False, written[-1].number
            lines.set_result(written)

    def _force_seal(self) -> None:
        self._seal_due = False
        if not self.is_gone:
            self.file.force_seal(is_idle=True)

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines above `after`. Raises sqlite3.Error when the file is closed."""
        return iter(self.file.read(after=after, limit=1_000_000))

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return self.file.watermarks()

    def note(self, key: str) -> str | None:
        """Give a note."""
        return self.file.note(key)

    def set_note(self, key: str, value: str) -> None:
        """Keep a note."""
        self.file.set_note(key, value)

    def last(self) -> int:
        """Give the number of the last line."""
        return self.file.last

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        return self.file.notes()

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line."""
        return self.file.head_at(number)

    async def close(self) -> None:
        """Close in order, but after an error as a file is left then."""
        self.unplug() if self._has_failed else self.close_in_order()

    def close_in_order(self) -> None:
        """Release the file as a server that is stopped does."""
        self.is_gone = True
        self._open.__exit__(None, None, None)

    def unplug(self) -> None:
        """Let go of the file without closing it: anything done to it from now on does not count."""
        self.is_gone = True
        with suppress(Unplugged):
            self._open.__exit__(Unplugged, Unplugged(), None)


def put(contents: Contents, disk: Disk) -> None:
    """Make the files what they are to be found as."""
    for path, data in contents.items():
        if data is None:
            Path(path).unlink(missing_ok=True)
        else:
            Path(path).write_bytes(data)
    disk.start_from(contents)


def flipped(contents: Contents, dice: Random) -> tuple[Contents, str]:
    """Flip one bit of one file; give the files and which bit it was."""
    path, data = dice.choice([(path, data) for path, data in sorted(contents.items()) if data])
    changed = bytearray(data)
    bit = dice.randrange(len(changed) * 8)
    changed[bit // 8] ^= 1 << bit % 8
    return {**contents, path: bytes(changed)}, f"bit {bit} of {Path(path).name}"
