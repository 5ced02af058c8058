"""What the servers of one competition share on Redis beside the journal: links, competition, the writer's address."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, replace

from tallywire.core.errors import JournalTaken
from tallywire.shell.journal.on_redis.client import Command, Place, RedisClient
from tallywire.shell.journal.on_redis.fence import check_epoch, check_replicas, script
from tallywire.shell.journal.on_redis.follower import STATE
from tallywire.shell.storage import Storage

_TIMEOUT_S = 0.5
"""The table waits so long at most for a link that is made while the server is away."""
_WAIT_MS = 300


@dataclass(frozen=True, slots=True)
class Shared:
    """One value, `name`, of the competition whose journal is at `place`, over a connection for each use.

    Only the writer may change it: the epoch of `storage` is looked at by the call that writes.
    """

    place: Place
    name: str
    storage: Storage

    def read(self) -> bytes | None:
        """Give what was written last. Raises JournalFailed."""
        with closing(RedisClient(self.place)) as client:
            data: bytes | None = client.ask("GET", self._key)
            return data

    def write(self, data: bytes) -> None:
        """Keep this from now on, at the replicas too that a line must have. Raises JournalFailed."""
        epoch = self.storage.epoch
        if epoch is None:
            raise JournalTaken(f"found a reader of the journal at {self.place}, expected its writer")
        write: Command = ("EVAL", script("keep"), 2, STATE, self._key, epoch, data)
        with closing(RedisClient(replace(self.place, timeout_s=_TIMEOUT_S))) as client:
            answer, copies = client.ask_all([write, ("WAIT", self.place.replicas, _WAIT_MS)])
        check_epoch(answer, epoch=epoch, place=self.place)
        check_replicas(copies, self.place)

    @property
    def _key(self) -> str:
        return f"{{tallywire}}:{self.name}"
