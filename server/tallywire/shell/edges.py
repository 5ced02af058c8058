"""What an edge has to know before it can follow: the competition, and where the writer answers."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from pathlib import Path

import orjson

from tallywire.core.errors import JournalFailed, TallywireError
from tallywire.shell.data_folder import COMPETITION, LINKS
from tallywire.shell.export import write_own
from tallywire.shell.journal.opening import RedisOptions, SharedName, shared
from tallywire.shell.storage import Storage
from tallywire.wire.checked_recording import Bundle

_log = logging.getLogger(__name__)


def keep_for_edges(redis: RedisOptions, competition: Bundle, address: str, *, storage: Storage) -> None:
    """Keep the competition and the writer's address, by which other machines reach it, where edges find them."""
    try:
        shared(redis, "competition", storage).write(orjson.dumps(competition.as_data()))
        shared(redis, "writer", storage).write(address.encode())
    except JournalFailed as exc:
        _log.error("cannot tell edges of this server (%s): they go on with what they know", exc)


def keep_shared(redis: RedisOptions, folder: Path) -> None:
    """Write links and competition to a folder that has neither, so that a server on this machine goes on with them."""
    files: Mapping[SharedName, str] = {"links": LINKS, "competition": COMPETITION}
    for name, file in files.items():
        kept = shared(redis, name).read()
        if kept is not None and not (folder / file).exists():
            write_own(folder / file, kept)


def load_for_edge(redis: RedisOptions) -> Bundle:
    """Give the competition that the writer has kept. Raises TallywireError when there is none, JournalAway."""
    kept = shared(redis, "competition").read()
    try:
        return Bundle.of_data(orjson.loads(kept or b""))
    except (ValueError, KeyError, TypeError) as exc:
        raise TallywireError(
            f"found no competition at {redis.place()}, expected that of a writer: start it first, with tallywire serve"
        ) from exc
