"""The journal on a Redis server. The port's promises are in port.py, what they rest on in docs/reliability.md."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Self

from tallywire.shell.journal.committed import CommittedJournal
from tallywire.shell.journal.committer import Committer
from tallywire.shell.journal.on_redis.client import Place
from tallywire.shell.journal.on_redis.follower import Follower
from tallywire.shell.journal.on_redis.lines import RedisLines, open_redis_lines
from tallywire.shell.journal.port import Line


class RedisJournal(CommittedJournal[RedisLines]):
    """A Journal in a Redis stream, written by one process at a time: the one that has the lease."""

    @classmethod
    def open(cls, place: Place, *, owner: str | None = None, follower: Follower | None = None) -> Self:
        """Connect as a reader, or with `owner` take the lease and check every line after those of `follower`.

        Raises JournalInUse while another writer has the lease, JournalAway when the server is not there,
        JournalDamaged when lines or watermarks are not what was written.
        """
        opened = partial(open_redis_lines, place, owner=owner, follower=follower or Follower())
        committer = Committer(opened)
        committer.call(lambda _lines: None)
        return cls(committer)

    def follow(self) -> Sequence[Line]:
        """Give the next lines; none when there are no more yet."""
        return self._committer.call(RedisLines.follow)

    def wait(self) -> Sequence[Line]:
        """Give the next lines as soon as there are some; none after a while without."""
        return self._committer.call(RedisLines.wait)

    def lease(self) -> tuple[int, str]:
        """Give how long the lease still runs, in ms, and whose it is."""
        return self._committer.call(RedisLines.lease)

    def lead(self, owner: str) -> None:
        """Become the writer. Raises JournalInUse, and is a reader as before, while another has the lease."""
        self._committer.call(partial(RedisLines.lead, owner=owner, begins_again=False))

    def stand_by(self, owner: str) -> None:
        """Let others know for a while that this reader is ready to lead."""
        self._committer.call(partial(RedisLines.stand_by, owner=owner))

    def renew(self) -> None:
        """Say that this writer is still there. Raises JournalTaken when another has taken over, or is to do so."""
        self._committer.call(RedisLines.renew)

    @property
    def epoch(self) -> int | None:
        """The epoch under which this writer writes, None for a reader."""
        return self._committer.call(lambda lines: lines.epoch)
