"""A journal that holds: what passes by itself is waited for, instead of ending the server, and then looked into."""

from __future__ import annotations

import asyncio
import logging
import threading
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any, Generic, TypeVar

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.committed import CommittedJournal
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.storage import Storage, StorageState

READ_PATIENCE_S = 10.0
"""So long a reader waits for a journal that is being opened again."""
J = TypeVar("J", bound=CommittedJournal[Any])
_log = logging.getLogger(__name__)


class ReopeningJournal(ABC, Generic[J]):
    """A Journal whose `append` takes as long as it takes until an error that passes by itself is over.

    Nothing is written again on a journal that failed: it is opened again, and its contents show whether the drafts were
    written. Any other failure ends the journal, as it would without this class.
    """

    passing: type[JournalFailed]
    """The error that is waited for."""
    held: StorageState
    """What is said meanwhile."""

    def __init__(
        self, name: str, journal: J, open_journal: Callable[[], J], *, storage: Storage, look_s: float
    ) -> None:
        self._name = name
        self._storage = storage
        self._open = open_journal
        self._look_s = look_s
        self._inner = journal
        self._is_open = True
        self._has_failed = False
        self._moved = threading.Condition()
        self._last = self._inner.last()
        self._one = asyncio.Lock()

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write the drafts in order, all or none; return their lines once they are durable, however long that takes."""
        async with self._one:
            try:
                lines = await self._kept(drafts, received_unix_ms)
            except JournalFailed:
                self._wake_readers(has_failed=True)
                raise
            self._last = lines[-1].number if lines else self._last
            await self._appended(lines)
            return lines

    async def _kept(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        try:
            return await self._written(drafts, received_unix_ms)
        except self.passing:
            return await self._hold(drafts, received_unix_ms)

    async def _written(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        return await self._inner.append(drafts, received_unix_ms=received_unix_ms)

    @abstractmethod
    async def _appended(self, lines: Sequence[Line]) -> None:
        """Hear of what was just appended."""

    async def _hold(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        """Go on once it is over."""
        self._begin_to_hold()
        await self._close()
        while True:
            with suppress(self.passing):
                await self._reopen()
                if await self._is_over():
                    lines = await self._again(drafts, received_unix_ms)
                    self._end_holding()
                    return lines
            if self._storage.given_up.is_set():
                raise self._gave_up()
            self._say(self.held)
            with suppress(TimeoutError):
                await asyncio.wait_for(self._storage.given_up.wait(), self._look_s)

    @abstractmethod
    def _begin_to_hold(self) -> None:
        """Say what has happened."""

    @abstractmethod
    async def _is_over(self) -> bool:
        """Tell whether the journal, which is open again, can take lines."""

    @abstractmethod
    def _end_holding(self) -> None:
        """Say that lines are taken again."""

    @abstractmethod
    def _gave_up(self) -> JournalFailed:
        """Give the error of an append that waited in vain."""

    async def _reopen(self) -> None:
        if not self._is_open:
            inner = await asyncio.to_thread(self._open)
            self._inner, self._is_open = inner, True
            self._wake_readers()

    def _wake_readers(self, *, has_failed: bool = False) -> None:
        with self._moved:
            self._has_failed = self._has_failed or has_failed
            self._moved.notify_all()

    async def _close(self) -> None:
        self._is_open = False
        await self._inner.close()

    async def _again(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        try:
            there = await asyncio.to_thread(lambda: list(self._inner.read(after=self._last)))
            if not there:
                return await self._inner.append(drafts, received_unix_ms=received_unix_ms)
        except JournalFailed:
            await self._close()
            raise
        if [(line.sender, line.sequence, line.body) for line in there] != [
            (draft.sender, draft.sequence, draft.body) for draft in drafts
        ]:
            raise JournalFailed(f"found other lines after line {self._last} in {self._name}, expected those just sent")
        return there

    def _say(self, state: StorageState) -> None:
        if state is not self._storage.now:
            _log.warning("the journal %s: %s", self._name, state.message)
            self._storage.change(state)

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines above `after` in order, those appended meanwhile too.

        While the journal is opened again this waits: off the event loop, which does the opening.
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

    def _opens_again(self, before: J) -> bool:
        with self._moved:
            self._moved.wait_for(lambda: self._inner is not before or self._is_at_end, timeout=READ_PATIENCE_S)
        return self._inner is not before

    @property
    def _is_at_end(self) -> bool:
        return self._has_failed or self._storage.given_up.is_set()

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
        """Finish what was queued, unless it is held, then release the journal."""
        self._storage.give_up()
        self._wake_readers()
        async with self._one:
            await self._inner.close()
