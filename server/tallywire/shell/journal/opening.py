"""Opening the journal that a server is to use: the embedded one, with or without a second copy, or one on Redis."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from tallywire.shell.data_folder import JOURNAL, make_data_folder
from tallywire.shell.journal.holding import HoldingJournal
from tallywire.shell.journal.mirror import MirroredJournal
from tallywire.shell.journal.port import Journal, Line
from tallywire.shell.journal.proof import Reader
from tallywire.shell.storage import Storage

if TYPE_CHECKING:
    from tallywire.shell.journal.on_redis.client import Place
    from tallywire.shell.journal.on_redis.shared import Shared

Restore = Callable[[Iterable[Line]], None]
Take = Callable[[Sequence[Line]], None]
SharedName = Literal["links", "competition", "writer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A journal that may be read; `begin` makes this process its writer, or hands on what there is to a follower.

    What others write meanwhile is handed on too. `keep` has to run as long as the journal is used; it hands on what
    others write from then on, and raises JournalFailed when the journal must be used no more.
    """

    journal: Journal
    begin: Callable[[Restore], Awaitable[object]]
    keep: Callable[[Take], Awaitable[object]]

    @classmethod
    def alone(cls, journal: Journal, storage: Storage) -> Opened:
        """Give a journal that this process alone has."""
        return cls(journal=journal, begin=_at_once, keep=lambda _take: storage.given_up.wait())


@dataclass(frozen=True, slots=True, kw_only=True)
class RedisOptions:
    """The address of a Redis database for the journal, and how many replicas must have a line before its answer.

    `lease_ms` is how long the writer may be silent; `standby`: another server is to be the writer first; `follows`:
    this one never is. `writer` is the address to which a follower hands on the crew, the writer's own unless given.
    """

    url: str
    replicas: int = 0
    lease_ms: int = 3000
    standby: bool = False
    follows: bool = False
    writer: str | None = None

    def place(self) -> Place:
        """Give the address, checked. Raises TallywireError."""
        # Nobody without the option waits for this import, or needs the package.
        from tallywire.shell.journal.on_redis.client import TIMEOUT_S, Place

        # A follower writes nothing: it may give a silent connection up early.
        timeout_s = 1.0 if self.follows else TIMEOUT_S
        return Place(url=self.url, replicas=self.replicas, lease_ms=self.lease_ms, timeout_s=timeout_s).checked()


async def opened_journal(
    folder: Path, *, mirror: Path | None, redis: RedisOptions | None, storage: Storage, reader: Reader | None = None
) -> Opened:
    """Open the journal of a data folder, or the one on Redis. Raises JournalFailed.

    `reader` gets the lines of the one in a folder while they are examined, so that a start reads them once.
    """
    if redis is not None:
        return _on_redis(redis, storage)
    if mirror is not None:
        make_data_folder(mirror, option="--mirror")
    journal = HoldingJournal(folder / JOURNAL, storage=storage, reader=reader)
    if mirror is None:
        return Opened.alone(journal, storage)
    try:
        return Opened.alone(MirroredJournal(journal, mirror / JOURNAL), storage)
    except BaseException:
        await journal.close()
        raise


async def _at_once(_take: Restore) -> None:
    """There is nobody else."""


def _on_redis(redis: RedisOptions, storage: Storage) -> Opened:
    from tallywire.shell.journal.on_redis.holding import RedisHoldingJournal

    journal = RedisHoldingJournal(redis.place(), storage=storage)
    if redis.follows:
        return Opened(journal=journal, begin=journal.catch_up, keep=journal.follow)
    patience_ms = redis.lease_ms if redis.standby else 0
    begin = partial(journal.lead, patience_ms=patience_ms)
    return Opened(journal=journal, begin=begin, keep=lambda _take: journal.keep())


def shared(redis: RedisOptions, name: SharedName, storage: Storage | None = None) -> Shared:
    """Give something that all servers of a journal on Redis have together; without `storage`, only to read it."""
    from tallywire.shell.journal.on_redis.shared import Shared

    return Shared(redis.place(), name, storage or Storage())
