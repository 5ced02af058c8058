"""A journal on a thread of its own: every call goes to the store that the thread owns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Generic, TypeVar

from tallywire.shell.journal.committer import Committer
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.journal.store import LineStore

S = TypeVar("S", bound=LineStore)
_CHUNK = 2000


class CommittedJournal(Generic[S]):
    """A Journal whose lines a Committer keeps. The promises are in port.py."""

    def __init__(self, committer: Committer[S]) -> None:
        self._committer = committer

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write the drafts in order, all or none, and return their lines once they are durable."""
        return await self._committer.append(tuple(drafts), received_unix_ms)

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines above `after` in order, those appended meanwhile too; blocks for each chunk of 2,000."""
        while chunk := self._committer.call(partial(_read, after=after)):
            yield from chunk
            after = chunk[-1].number

    def last(self) -> int:
        """Give the number of the last line, 0 when there is none."""
        return self._committer.call(lambda store: store.last)

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return self._committer.call(lambda store: store.watermarks())

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        return self._committer.call(lambda store: store.note(key))

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        self._committer.call(lambda store: store.set_note(key, value))

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        return self._committer.call(lambda store: store.notes())

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        return self._committer.call(lambda store: store.head_at(number))

    async def close(self) -> None:
        """Finish what was queued, then release the store. Nothing is accepted or read afterwards."""
        await self._committer.close()


def _read(store: LineStore, *, after: int) -> list[Line]:
    return store.read(after=after, limit=_CHUNK)
