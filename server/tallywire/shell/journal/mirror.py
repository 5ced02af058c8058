"""A second copy of a journal on another disk, written right after each acknowledgement."""

from __future__ import annotations

import asyncio
import logging
import sqlite3
import threading
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import groupby, islice
from pathlib import Path
from typing import Protocol

from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal.line_file import LineFile, open_lines
from tallywire.shell.journal.port import Draft, Journal, Line, draft_of

RETRY_S = 5.0
"""How long a copy that failed is left alone before it is opened again."""
_PIECE = 2000
_log = logging.getLogger(__name__)


class Copyable(Journal, Protocol):
    """A journal that can be copied: it also gives its notes and its chain."""

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        ...

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        ...


class MirroredJournal:
    """A Journal whose lines a thread of its own copies to another file.

    Right after, not before: a slow or dead second disk delays no acknowledgement and stops no heat. The copy lacks what
    was committed while its last commit ran. When it fails, that is logged; it is opened again and catches up by itself.
    Lines, times, numbers and chain are the same in both.
    """

    def __init__(
        self, journal: Copyable, path: Path, *, factory: type[sqlite3.Connection] = sqlite3.Connection
    ) -> None:
        """Bring the copy at `path` up to date, then follow. Raises JournalFailed when it cannot be this one's copy."""
        self._journal = journal
        self._open = partial(open_lines, path, factory)
        self._path = path
        self._news = threading.Event()
        self._closing = threading.Event()
        self.copied = 0
        try:
            with self._open() as copy:
                self._catch_up(copy)
        except (OSError, sqlite3.Error) as exc:
            raise JournalFailed(
                f"cannot bring the mirror {path} up to date ({exc}): check its disk, or choose another --mirror"
            ) from exc
        self._thread = threading.Thread(target=self._run, name="mirror", daemon=True)
        self._thread.start()

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write the drafts to the journal, and have them copied."""
        lines = await self._journal.append(drafts, received_unix_ms=received_unix_ms)
        self._news.set()
        return lines

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the journal's lines."""
        return self._journal.read(after=after)

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return self._journal.watermarks()

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        return self._journal.note(key)

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key` in the journal, and have it copied."""
        self._journal.set_note(key, value)
        self._news.set()

    async def close(self) -> None:
        """Copy what is left, then release both."""
        self._closing.set()
        self._news.set()
        await asyncio.to_thread(self._thread.join)
        await self._journal.close()

    def _run(self) -> None:
        while not self._closing.is_set():
            try:
                with self._open() as copy:
                    self._follow(copy)
            except Exception as exc:
                # Whatever the error was, the second copy must not stop the first.
                _log.error("the mirror %s failed (%s): it is opened again every %g s", self._path, exc, RETRY_S)
                self._closing.wait(RETRY_S)

    def _follow(self, copy: LineFile) -> None:
        while True:
            is_last = self._closing.is_set()
            self._catch_up(copy)
            if is_last:
                return
            self._news.wait()
            self._news.clear()

    def _catch_up(self, copy: LineFile) -> None:
        if self._journal.head_at(copy.last) != copy.head_at(copy.last):
            raise self._not_a_copy(copy)
        for key, value in self._journal.notes().items():
            copy.set_note(key, value)
        lines = self._journal.read(after=copy.last)
        while piece := list(islice(lines, _PIECE)):
            copy.write([([draft_of(line) for line in same], received) for received, same in groupby(piece, _received)])
            self.copied = copy.last
        copy.force_seal()

    def _not_a_copy(self, copy: LineFile) -> JournalFailed:
        if self._journal.head_at(copy.last) is None:
            return JournalDamaged(
                f"found {copy.last} lines in the mirror {self._path}, more than in the journal: the journal has lost "
                f"some; start with `--data {self._path.parent}` and another --mirror to go on with all of them"
            )
        return JournalFailed(
            f"found another journal in the mirror {self._path}, expected a copy: choose a new --mirror"
        )


def _received(line: Line) -> int:
    return line.received_unix_ms
