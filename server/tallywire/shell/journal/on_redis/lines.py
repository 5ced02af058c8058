"""The journal's lines in a Redis stream, used only by the one thread that owns the connection.

Keys of one database, all in one slot of a cluster: `{tallywire}:lines`, a stream whose ids are `NUMBER-EPOCH`;
`{tallywire}:state`, a hash of epoch, owner and end of the lease (`until`, Unix milliseconds of the server), number and
chain of the last line; `{tallywire}:marks`, the highest sequence of each sender; `{tallywire}:notes`.
"""

from __future__ import annotations

import os
import secrets
import socket
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from itertools import count
from typing import Any

from tallywire.core.errors import JournalFailed, JournalInUse, JournalTaken
from tallywire.shell.journal.chain import GENESIS, chained
from tallywire.shell.journal.on_redis.client import Command, Place, RedisClient
from tallywire.shell.journal.on_redis.fence import check_epoch, check_replicas, script
from tallywire.shell.journal.on_redis.follower import HANDOVER, LINES, MARKS, NOTES, STANDBY, STATE, Follower
from tallywire.shell.journal.on_redis.promise import check_promise
from tallywire.shell.journal.port import Draft, Line, check_same_note

_STANDBY_MS = 2000
_WAIT_FOR_LINES_MS = 250
_WAIT_MS = 1000
"""How long replicas may take before the server's own answer says how many have it."""


def make_owner() -> str:
    """Name this writer: no other has the same name, and a person can find it by it."""
    return f"{socket.gethostname()} process {os.getpid()} ({secrets.token_hex(4)})"


class RedisLines:
    """Lines and notes as a reader sees them, and the one writer once it leads, under its epoch: a LineStore."""

    def __init__(self, client: RedisClient, *, follower: Follower) -> None:
        """Begin as a reader that has come as far as `follower`, which goes on with what is read and written."""
        self._client = client
        self._place = client.place
        self._end = follower
        self._append = b""
        self.epoch: int | None = None

    def follow(self) -> list[Line]:
        """Give the next lines, checked by their chain; none when there are no more yet. Raises JournalDamaged."""
        return self._end.take(self._client)

    def wait(self) -> list[Line]:
        """Give the next lines as soon as there are some; none after a while without. Raises JournalDamaged."""
        return self._end.wait(self._client, wait_ms=_WAIT_FOR_LINES_MS)

    def stand_by(self, owner: str) -> None:
        """Let others know for a while that this reader is ready to lead."""
        self._client.ask("SET", STANDBY, owner, "PX", _STANDBY_MS)

    def lease(self) -> tuple[int, str]:
        """Give how long the lease still runs (ms by the server's clock; 0 or less: not at all), and whose it is."""
        now, (until, owner) = self._client.ask_all([("TIME",), ("HMGET", STATE, "until", "owner")])
        return int(until or 0) - int(now[0]) * 1000 - int(now[1]) // 1000, (owner or b"").decode()

    def lead(self, owner: str, *, begins_again: bool) -> None:
        """Take the lease, and check every line there is: from then on lines may be written.

        With `begins_again` a server that lacks lines read before is read from its first line on. Raises JournalInUse
        when another writer has the lease, JournalAway when the server is not there, JournalDamaged.
        """
        check_promise(self._client)
        self._append = self._client.load(script("append"))
        epoch = self._take(owner)
        self._end.epoch = epoch
        self._end.check(self._client, begins_again=begins_again)
        self.epoch = epoch

    def _take(self, owner: str) -> int:
        take = self._client.load(script("take"))
        taken = self._waited(("EVALSHA", take, 1, STATE, owner, self._place.lease_ms, GENESIS, self._end.epoch))
        if taken[0] == b"held":
            raise JournalInUse(
                f"found another writer at {self._place}: {taken[2].decode()}, epoch {int(taken[1])}, whose lease runs "
                f"{int(taken[3])} ms more: wait for its end, or stop that writer"
            )
        return int(taken[1])

    def _waited(self, command: Command) -> Any:
        """Run a command that writes; with replicas, in the same round trip, wait until they have it."""
        replicas = self._place.replicas
        if not replicas:
            return self._client.ask(*command)
        # WAITAOF would also wait for the replicas' disks, but they tell of these once a second (docs/reliability.md).
        answer, copies = self._client.ask_all([command, ("WAIT", replicas, _WAIT_MS)])
        check_replicas(copies, self._place)
        return answer

    def write(self, groups: Sequence[tuple[Sequence[Draft], int]]) -> list[list[Line]]:
        """Number the drafts of each (drafts, received_unix_ms) in order and append all of them in one round trip."""
        numbers = count(self._end.last + 1)
        written = [
            [draft.as_line(next(numbers), received_unix_ms=received) for draft in drafts] for drafts, received in groups
        ]
        lines = [line for group in written for line in group]
        if lines and self.epoch is None:
            raise JournalTaken(f"found a reader of the journal at {self._place}, expected its writer")
        if lines:
            self._send(lines)
        return written

    def renew(self) -> None:
        """Say that this writer is still there. Raises JournalTaken when another has taken over, or is to do so."""
        self._send([])
        if self._client.ask("GET", HANDOVER) == b"%d" % self._end.epoch:
            raise JournalTaken(f"found that epoch {self.epoch} at {self._place} was to be handed over")

    def _send(self, lines: Sequence[Line]) -> None:
        head, values = self._end.head, list[str | bytes | int]()
        for line in lines:
            head = chained(head, line)
            values += _values(line, head)
        keys = (LINES, STATE, MARKS)
        before = (self._end.epoch, self._end.last, self._end.head, self._place.lease_ms)
        self._check(self._waited(("EVALSHA", self._append, len(keys), *keys, *before, *values)))
        for line in lines:
            self._end.note(line, head)

    def _check(self, answer: Sequence[bytes]) -> None:
        check_epoch(answer, epoch=self._end.epoch, place=self._place)
        said, *what = [each.decode() for each in answer]
        if said == "moved":
            raise JournalFailed(
                f"found line {what[0]} as the last at {self._place}, expected {self._end.last}: lines came or went"
            )
        if said == "twice":
            raise JournalFailed(
                f'found sequence {what[1]} of sender "{what[0]}" already in the journal at {self._place}, expected a '
                "new one: stop, and start again"
            )

    def read(self, *, after: int, limit: int) -> list[Line]:
        """Give at most `limit` lines with a number above `after`, in order, checked by their chain."""
        if after >= self._end.last:
            return []
        follower = Follower.after(self._client, after)
        return follower.take(self._client, limit=limit, until=self._end.last)

    @property
    def last(self) -> int:
        """The number of the last line."""
        return self._end.last

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return dict(self._end.marks)

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        value = self._client.ask("HGET", NOTES, key)
        return None if value is None else value.decode()

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        if self.epoch is not None:
            command = ("EVAL", script("keep"), 2, STATE, NOTES, self.epoch, value, key)
            check_epoch(self._waited(command), epoch=self.epoch, place=self._place)
        check_same_note(key, kept=str(self.note(key)), value=value)

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        return {key.decode(): value.decode() for key, value in _pairs(self._client.ask("HGETALL", NOTES))}

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        return self._end.head if number == self._end.last else Follower.head_at(self._client, number)

    def force_seal(self, *, is_idle: bool = False) -> None:
        """Do nothing: the seal, number and chain of the last line, is written with the line."""

    def release(self) -> None:
        """Give the lease up, if there is one, so that another writer can take over at once."""
        if self.epoch is not None:
            self._waited(("EVALSHA", self._client.load(script("release")), 1, STATE, self.epoch))


def _values(line: Line, chain: bytes) -> tuple[str | bytes | int, ...]:
    refusal = b"-" if line.refusal is None else b"+" + line.refusal
    return line.received_unix_ms, line.sender, line.sequence, line.body, refusal, chain


def _pairs(flat: Sequence[bytes]) -> Iterator[tuple[bytes, bytes]]:
    return zip(flat[::2], flat[1::2], strict=True)


@contextmanager
def open_redis_lines(place: Place, *, follower: Follower, owner: str | None) -> Iterator[RedisLines]:
    """Connect, and lead as `owner` unless there is none."""
    with closing(RedisClient(place)) as client:
        lines = RedisLines(client, follower=follower)
        if owner is not None:
            lines.lead(owner, begins_again=True)
        yield lines
        # Not after a failure: then it may be another's, or the server may be gone.
        lines.release()
