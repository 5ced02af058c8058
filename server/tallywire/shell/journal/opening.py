"""Opening the journal that a server is to use: the embedded one, with or without a second copy, or one on Redis."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tallywire.shell.data_folder import JOURNAL, make_data_folder
from tallywire.shell.journal.holding import HoldingJournal
from tallywire.shell.journal.mirror import MirroredJournal
from tallywire.shell.journal.port import Journal, Line
from tallywire.shell.storage import Storage

if TYPE_CHECKING:
    from tallywire.shell.journal.on_redis.client import Place
    from tallywire.shell.journal.on_redis.shared_links import RedisLinks

Take = Callable[[Sequence[Line]], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A journal that may be read; `lead` makes this process its writer, and hands on what others write before that.

    `keep` has to run as long as it is used, and raises JournalFailed when it must be used no more.
    """

    journal: Journal
    lead: Callable[[Take], Awaitable[object]]
    keep: Callable[[], Awaitable[object]]

    @classmethod
    def alone(cls, journal: Journal, storage: Storage) -> Opened:
        """Give a journal that this process alone has."""
        return cls(journal=journal, lead=_lead_at_once, keep=storage.given_up.wait)


@dataclass(frozen=True, slots=True, kw_only=True)
class RedisOptions:
    """The address of a Redis database for the journal, and how many replicas must have a line before its answer.

    `lease_ms` is how long the writer may be silent; `standby`: another server is to be the writer first.
    """

    url: str
    replicas: int = 0
    lease_ms: int = 3000
    standby: bool = False

    def place(self) -> Place:
        """Give the address, checked. Raises TallywireError."""
        # Nobody without the option waits for this import, or needs the package.
        from tallywire.shell.journal.on_redis.client import Place

        return Place(url=self.url, replicas=self.replicas, lease_ms=self.lease_ms).checked()


async def opened_journal(folder: Path, *, mirror: Path | None, redis: RedisOptions | None, storage: Storage) -> Opened:
    """Open the journal of a data folder, or the one on Redis. Raises JournalFailed."""
    if redis is not None:
        return _on_redis(redis, storage)
    if mirror is None:
        return Opened.alone(HoldingJournal(folder / JOURNAL, storage=storage), storage)
    make_data_folder(mirror, option="--mirror")
    journal = HoldingJournal(folder / JOURNAL, storage=storage)
    try:
        return Opened.alone(MirroredJournal(journal, mirror / JOURNAL), storage)
    except BaseException:
        await journal.close()
        raise


async def _lead_at_once(_take: Take) -> None:
    """There is nobody else."""


def _on_redis(redis: RedisOptions, storage: Storage) -> Opened:
    from tallywire.shell.journal.on_redis.holding import RedisHoldingJournal

    journal = RedisHoldingJournal(redis.place(), storage=storage)
    patience_ms = redis.lease_ms if redis.standby else 0
    return Opened(journal=journal, lead=partial(journal.lead, patience_ms=patience_ms), keep=journal.keep)


def shared_links(redis: RedisOptions) -> RedisLinks:
    """Give the links that all servers of a journal on Redis have together."""
    from tallywire.shell.journal.on_redis.shared_links import RedisLinks

    return RedisLinks(redis.place())
