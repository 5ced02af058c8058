"""What an edge has to know before it can follow: the competition, and where the writer answers."""

from __future__ import annotations

import logging

import orjson

from tallywire.core.errors import JournalFailed, TallywireError
from tallywire.shell.journal.opening import RedisOptions, shared
from tallywire.wire.checked_recording import Bundle

_log = logging.getLogger(__name__)


def keep_for_edges(redis: RedisOptions, competition: Bundle, address: str) -> None:
    """Keep the competition and the writer's address, by which other machines reach it, where edges find them."""
    try:
        shared(redis, "competition").write(orjson.dumps(competition.as_data()))
        shared(redis, "writer").write(address.encode())
    except JournalFailed as exc:
        _log.error("cannot tell edges of this server (%s): they go on with what they know", exc)


def load_for_edge(redis: RedisOptions) -> Bundle:
    """Give the competition that the writer has kept. Raises TallywireError when there is none, JournalAway."""
    kept = shared(redis, "competition").read()
    try:
        return Bundle.of_data(orjson.loads(kept or b""))
    except (ValueError, KeyError, TypeError) as exc:
        raise TallywireError(
            f"found no competition at {redis.place()}, expected that of a writer: start it first, with tallywire serve"
        ) from exc
