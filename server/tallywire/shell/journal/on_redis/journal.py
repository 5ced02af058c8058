"""The journal on a Redis server. The port's promises are in port.py, what they rest on in docs/reliability.md."""

from __future__ import annotations

from functools import partial
from typing import Self

from tallywire.shell.journal.committed import CommittedJournal
from tallywire.shell.journal.committer import Committer
from tallywire.shell.journal.on_redis.client import Place
from tallywire.shell.journal.on_redis.follower import Follower
from tallywire.shell.journal.on_redis.lines import RedisLines, make_owner, open_redis_lines


class RedisJournal(CommittedJournal[RedisLines]):
    """A Journal in a Redis stream, written by one process at a time: the one that has the lease."""

    @classmethod
    def open(cls, place: Place, *, owner: str | None = None, follower: Follower | None = None) -> Self:
        """Take the lease and check every line after those that `follower` has taken; blocks meanwhile.

        Raises JournalInUse while another writer has the lease, JournalAway when the server is not there,
        JournalDamaged when lines or watermarks are not what was written.
        """
        opened = partial(open_redis_lines, place, owner=owner or make_owner(), follower=follower or Follower())
        committer = Committer(opened)
        committer.call(lambda _lines: None)
        return cls(committer)

    def renew(self) -> None:
        """Say that this writer is still there. Raises JournalTaken when another has taken over."""
        self._committer.call(RedisLines.renew)

    @property
    def epoch(self) -> int:
        """The epoch under which this writer writes."""
        return self._committer.call(lambda lines: lines.epoch)
