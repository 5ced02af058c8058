"""Opening the journal that a server is to use: the embedded one, with or without a second copy, or one on Redis."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path

from tallywire.shell.data_folder import JOURNAL, make_data_folder
from tallywire.shell.journal.holding import HoldingJournal
from tallywire.shell.journal.mirror import Copyable, MirroredJournal
from tallywire.shell.journal.port import Journal
from tallywire.shell.storage import Storage


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A journal, and what has to run as long as it is used, which raises JournalFailed when it must be used no more."""

    journal: Journal
    keep: Callable[[], Awaitable[object]]


@dataclass(frozen=True, slots=True, kw_only=True)
class RedisOptions:
    """The address of a Redis database for the journal, and how many replicas must have a line before its answer."""

    url: str
    replicas: int = 0


async def opened_journal(folder: Path, *, mirror: Path | None, redis: RedisOptions | None, storage: Storage) -> Opened:
    """Open the journal of a data folder, or the one on Redis. Raises JournalFailed."""
    if mirror is not None:
        make_data_folder(mirror, option="--mirror")
    opened = _embedded(folder, storage) if redis is None else _on_redis(redis, storage)
    if mirror is None:
        return Opened(journal=opened[0], keep=opened[1])
    try:
        return Opened(journal=MirroredJournal(opened[0], mirror / JOURNAL), keep=opened[1])
    except BaseException:
        await opened[0].close()
        raise


def _embedded(folder: Path, storage: Storage) -> tuple[Copyable, Callable[[], Awaitable[object]]]:
    return HoldingJournal(folder / JOURNAL, storage=storage), storage.given_up.wait


def _on_redis(redis: RedisOptions, storage: Storage) -> tuple[Copyable, Callable[[], Awaitable[object]]]:
    # Nobody without the option waits for this import, or needs the package.
    from tallywire.shell.journal.on_redis.client import Place
    from tallywire.shell.journal.on_redis.holding import RedisHoldingJournal

    journal = RedisHoldingJournal(Place(url=redis.url, replicas=redis.replicas).checked(), storage=storage)
    return journal, journal.keep
