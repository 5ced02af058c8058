"""The program's own holding journal and mirror in a world: what waits there, or goes to a thread, goes by its clock."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any, cast
from unittest.mock import patch

from simulated.storage import WorldJournal
from simulated.time import WorldClock
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal import holding, mirror, reopening
from tallywire.shell.journal.holding import HoldingJournal, Room
from tallywire.shell.journal.mirror import RETRY_S, MirroredJournal
from tallywire.shell.storage import Storage


class Waits:
    """What the holding journal needs of asyncio. `count` tells how many wait for the clock."""

    def __init__(self, clock: WorldClock) -> None:
        self._clock = clock
        self.count = 0

    async def _wait_for(self, given_up: Coroutine[Any, Any, Any], seconds: float) -> None:
        given_up.close()
        over: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._clock.after(seconds, lambda: None if over.done() else over.set_result(None))
        self.count += 1
        try:
            await over
        finally:
            self.count -= 1
        raise TimeoutError

    @contextmanager
    def in_use(self) -> Iterator[None]:
        """Have holding journals use it."""

        async def at_once(function: Callable[[], Any]) -> Any:
            return function()

        own = SimpleNamespace(to_thread=at_once, wait_for=self._wait_for, Lock=asyncio.Lock)
        with (
            patch.object(reopening, "asyncio", own),
            patch.object(holding, "asyncio", own),
            patch.object(holding, "monotonic", self._clock.now),
        ):
            yield


class WorldRoom(Room):
    """What a disk says of its room: it may be wrong about a little."""

    def __init__(self, is_full: Callable[[], bool], dice: Random) -> None:
        self._is_full = is_full
        self._dice = dice
        self._has_reserve = True

    def is_there(self) -> bool:
        """There is, unless the disk is full."""
        return not self._is_full() or self._dice.random() < 0.2

    def make_reserve(self) -> bool:
        """Lay it down where there is room."""
        self._has_reserve = self._has_reserve or not self._is_full()
        return self._has_reserve

    def give_reserve(self) -> bool:
        """Give it, once."""
        had, self._has_reserve = self._has_reserve, False
        return had


class WorldHolding(HoldingJournal):
    """The server's journal."""

    def __init__(self, path: Path, open_file: Callable[[], WorldJournal], *, storage: Storage, room: Room) -> None:
        super().__init__(path, storage=storage, open_journal=lambda _path: cast(Any, open_file()), room=room)

    @property
    def inner(self) -> WorldJournal:
        """The file that is open, or was last."""
        return cast(WorldJournal, self._inner)

    @property
    def answered(self) -> int:
        """How many lines its caller has, or is about to get."""
        return self._last

    @property
    def is_open(self) -> bool:
        """Whether its file is open."""
        return self._is_open


class _Never:
    """A thread that is never started."""

    def __init__(self, **_of: object) -> None:
        self.start = self.join = lambda: None


class WorldMirror(MirroredJournal):
    """The second copy. Its thread's work is done at some later moment of the clock."""

    def __init__(self, journal: WorldHolding, path: Path, *, clock: WorldClock, dice: Random) -> None:
        self._clock, self._dice = clock, dice
        self._of = journal
        self._is_due = True
        self.says: str | None = None
        news = SimpleNamespace(set=self._soon)
        with patch.object(mirror, "threading", SimpleNamespace(Event=lambda: news, Thread=_Never)):
            super().__init__(journal, path)
        self._is_due = False

    def _soon(self, seconds: float | None = None) -> None:
        if not self._is_due:
            self._is_due = True
            self._clock.after(self._dice.choice((0.0, 0.05, 0.6)) if seconds is None else seconds, self._copy)

    def is_whole(self) -> bool:
        """Tell whether the copy has every line of the journal, with the same chain."""
        with self._open() as copy:
            return copy.last == self._of.inner.last() and copy.head_at(copy.last) == self._of.head_at(copy.last)

    def _copy(self) -> None:
        self._is_due = False
        if self._of.inner.is_gone and self._of.is_open:
            return
        try:
            if not self._of.is_open:
                raise JournalFailed("it is being opened again")
            with self._open() as copy:
                self._catch_up(copy)
        except JournalDamaged as exc:
            self.says = str(exc)
        except (JournalFailed, sqlite3.Error):
            self._soon(RETRY_S)
