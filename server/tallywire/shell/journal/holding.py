"""A journal that waits while its disk is full, instead of ending the server."""

from __future__ import annotations

import asyncio
import logging
import os
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from time import monotonic

from tallywire.core.errors import JournalFailed, JournalFull
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.storage import HELD, LOW, OK, Storage, StorageState

RESERVE_BYTES = 4 * 1024 * 1024
"""Freed when the disk is full: enough for some ten thousand more facts, and for closing and exporting."""
ROOM_BYTES = 1024 * 1024
LOOK_S = 0.25
READ_PATIENCE_S = 10.0
"""So long a reader waits for a file that is being opened again."""
_LOOK_AGAIN_S = 5.0
_log = logging.getLogger(__name__)


class Room:
    """The free space on the journal's disk, and the reserve that lies on it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._reserve = folder / "reserve"

    def is_there(self) -> bool:
        """Tell whether some facts can be written. It tries to take the room, because a quota shows nowhere else."""
        probe = self._folder / "probe"
        is_there = _allocated(probe, ROOM_BYTES)
        probe.unlink(missing_ok=True)
        return is_there

    def make_reserve(self) -> bool:
        """Lay down the reserve if there is ample room beside it, unless it is there already.

        Tell whether it is there.
        """
        if self._reserve.exists():
            return True
        state = os.statvfs(self._folder)
        ample = state.f_bavail * state.f_frsize >= 4 * RESERVE_BYTES
        if not (ample and _allocated(self._reserve, RESERVE_BYTES)):
            self._reserve.unlink(missing_ok=True)
            return False
        return True

    def give_reserve(self) -> bool:
        """Free the reserve; False when it was already gone."""
        try:
            self._reserve.unlink()
        except OSError:
            return False
        return True


def _allocated(path: Path, size: int) -> bool:
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT, 0o600)
        try:
            os.posix_fallocate(descriptor, 0, size)
        finally:
            os.close(descriptor)
    except OSError:
        return False
    return True


class HoldingJournal:
    """A Journal in an SQLite file. When its disk is full, `append` takes as long as it takes to get room.

    Nothing is written again on a handle that failed: the file is opened again from disk, and its contents show whether
    the drafts were written. Any other failure ends the journal, as it would without this class.
    """

    def __init__(
        self,
        path: Path,
        *,
        storage: Storage,
        open_journal: Callable[[Path], SqliteJournal] = SqliteJournal.open,
        room: Room | None = None,
        look_s: float = LOOK_S,
    ) -> None:
        self._path = path
        self._storage = storage
        self._open = open_journal
        self._room = room or Room(path.parent)
        self._look_s = look_s
        self._inner = open_journal(path)
        self._is_open = True
        self._moved = threading.Condition()
        self._last = self._inner.last()
        self._one = asyncio.Lock()
        self._looked = monotonic()
        if not self._room.make_reserve():
            _log.warning("no room for a reserve of %d bytes beside the journal %s", RESERVE_BYTES, path)

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write the drafts in order, all or none, and return their lines once they are durable: when there is room."""
        async with self._one:
            try:
                lines = await self._inner.append(drafts, received_unix_ms=received_unix_ms)
            except JournalFull:
                lines = await self._held(drafts, received_unix_ms)
            self._last = lines[-1].number if lines else self._last
            await self._look()
            return lines

    async def _held(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        """Go on once there is room."""
        self._say(LOW if self._room.give_reserve() else HELD)
        await self._close()
        while True:
            with suppress(JournalFull):
                await self._reopen()
                if await asyncio.to_thread(self._room.is_there):
                    lines = await self._again(drafts, received_unix_ms)
                    self._say(LOW)
                    return lines
            if self._storage.given_up.is_set():
                raise JournalFull(f"found no room on the disk of the journal {self._path}: free some, and start again")
            self._say(HELD)
            with suppress(TimeoutError):
                await asyncio.wait_for(self._storage.given_up.wait(), self._look_s)

    async def _reopen(self) -> None:
        if not self._is_open:
            inner = await asyncio.to_thread(self._open, self._path)
            with self._moved:
                self._inner, self._is_open = inner, True
                self._moved.notify_all()

    async def _close(self) -> None:
        self._is_open = False
        await self._inner.close()

    async def _again(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        there = list(self._inner.read(after=self._last))
        if not there:
            try:
                return await self._inner.append(drafts, received_unix_ms=received_unix_ms)
            except JournalFailed:
                await self._close()
                raise
        if [(line.sender, line.sequence, line.body) for line in there] != [
            (draft.sender, draft.sequence, draft.body) for draft in drafts
        ]:
            raise JournalFailed(f"found other lines after line {self._last} in {self._path}, expected those just sent")
        return there

    async def _look(self) -> None:
        """After a shortage, check now and then whether there is room for a new reserve."""
        if self._storage.now is OK or monotonic() - self._looked < min(_LOOK_AGAIN_S, 20 * self._look_s):
            return
        self._looked = monotonic()
        if await asyncio.to_thread(self._room.make_reserve):
            self._say(OK)

    def _say(self, state: StorageState) -> None:
        if state is not self._storage.now:
            _log.warning("the journal %s: %s", self._path, state.message)
            self._storage.change(state)

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines above `after` in order, those appended meanwhile too.

        While the file is opened again this waits: off the event loop, which does the opening.
        """
        while True:
            inner = self._inner
            try:
                for line in inner.read(after=after):
                    yield line
                    after = line.number
                return
            except JournalFailed:
                if not self._opens_again(inner):
                    raise

    def _opens_again(self, before: SqliteJournal) -> bool:
        with self._moved:
            self._moved.wait_for(
                lambda: self._inner is not before or self._storage.given_up.is_set(), timeout=READ_PATIENCE_S
            )
        return self._inner is not before

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return self._inner.watermarks()

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        return self._inner.note(key)

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        self._inner.set_note(key, value)

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        return self._inner.notes()

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        return self._inner.head_at(number)

    async def close(self) -> None:
        """Finish what was queued, unless the disk is full, then release the file."""
        self._storage.give_up()
        with self._moved:
            self._moved.notify_all()
        async with self._one:
            await self._inner.close()
