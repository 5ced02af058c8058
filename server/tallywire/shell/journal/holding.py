"""A journal that waits while its disk is full, instead of ending the server."""

from __future__ import annotations

import asyncio
import logging
import os
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from time import monotonic

from tallywire.core.errors import JournalFailed, JournalFull
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.proof import Reader
from tallywire.shell.journal.reopening import ReopeningJournal
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.storage import HELD, LOW, OK, Storage

RESERVE_BYTES = 4 * 1024 * 1024
"""Freed when the disk is full: enough for some ten thousand more facts, and for closing and exporting."""
ROOM_BYTES = 1024 * 1024
LOOK_S = 0.25
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


class HoldingJournal(ReopeningJournal[SqliteJournal]):
    """A Journal in an SQLite file. When its disk is full, `append` takes as long as it takes to get room."""

    passing = JournalFull
    held = HELD

    def __init__(  # noqa: PLR0913
        self,
        path: Path,
        *,
        storage: Storage,
        reader: Reader | None = None,
        open_journal: Callable[..., SqliteJournal] = SqliteJournal.open,
        room: Room | None = None,
        look_s: float = LOOK_S,
    ) -> None:
        """Open the journal at `path`; `reader` gets the lines that are examined, this first time."""
        self._room = room or Room(path.parent)
        first = open_journal(path) if reader is None else open_journal(path, reader=reader)
        super().__init__(str(path), first, partial(open_journal, path), storage=storage, look_s=look_s)
        self._looked = monotonic()
        if not self._room.make_reserve():
            _log.warning("no room for a reserve of %d bytes beside the journal %s", RESERVE_BYTES, path)

    async def _appended(self, lines: Sequence[Line]) -> None:  # noqa: ARG002
        """After a shortage, check now and then whether there is room for a new reserve."""
        if self._storage.now is OK or monotonic() - self._looked < min(_LOOK_AGAIN_S, 20 * self._look_s):
            return
        self._looked = monotonic()
        if await asyncio.to_thread(self._room.make_reserve):
            self._say(OK)

    def _begin_to_hold(self) -> None:
        self._say(LOW if self._room.give_reserve() else HELD)

    async def _is_over(self) -> bool:
        return await asyncio.to_thread(self._room.is_there)

    def _end_holding(self) -> None:
        self._say(LOW)

    def _gave_up(self) -> JournalFailed:
        return JournalFull(f"found no room on the disk of the journal {self._name}: free some, and start again")
