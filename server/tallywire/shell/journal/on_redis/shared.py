"""What the servers of one competition share on Redis beside the journal: links, competition, the writer's address."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, replace

from tallywire.shell.journal.on_redis.client import Place, RedisClient

_TIMEOUT_S = 0.5
"""The table waits so long at most for a link that is made while the server is away."""


@dataclass(frozen=True, slots=True)
class Shared:
    """One value, `name`, of the competition whose journal is at `place`, over a connection for each use."""

    place: Place
    name: str

    def read(self) -> bytes | None:
        """Give what was written last. Raises JournalFailed."""
        with closing(RedisClient(self.place)) as client:
            data: bytes | None = client.ask("GET", self._key)
            return data

    def write(self, data: bytes) -> None:
        """Keep this from now on. Raises JournalFailed."""
        with closing(RedisClient(replace(self.place, timeout_s=_TIMEOUT_S))) as client:
            client.ask("SET", self._key, data)

    @property
    def _key(self) -> str:
        return f"{{tallywire}}:{self.name}"
