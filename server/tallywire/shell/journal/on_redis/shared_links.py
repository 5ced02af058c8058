"""The crew's links on Redis, so that the server that takes over knows every key: hashes alone, as in the file."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, replace

from tallywire.shell.journal.on_redis.client import Place, RedisClient

LINKS = "{tallywire}:links"
_TIMEOUT_S = 0.5
"""The table waits so long at most for a link that is made while the server is away."""


@dataclass(frozen=True, slots=True)
class RedisLinks:
    """The links of the competition whose journal is at `place`, over a connection for each use."""

    place: Place

    def read(self) -> bytes | None:
        """Give what was written last. Raises JournalFailed."""
        with closing(RedisClient(self.place)) as client:
            data: bytes | None = client.ask("GET", LINKS)
            return data

    def write(self, data: bytes) -> None:
        """Keep this from now on. Raises JournalFailed."""
        with closing(RedisClient(replace(self.place, timeout_s=_TIMEOUT_S))) as client:
            client.ask("SET", LINKS, data)
