"""Following the stream of a journal on Redis: every line is checked by its number and its chain as it comes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tallywire.core.errors import JournalDamaged
from tallywire.shell.journal.chain import GENESIS, chained
from tallywire.shell.journal.on_redis.client import RedisClient
from tallywire.shell.journal.port import Line

LINES, STATE, MARKS, NOTES = "{tallywire}:lines", "{tallywire}:state", "{tallywire}:marks", "{tallywire}:notes"
STANDBY, HANDOVER = "{tallywire}:standby", "{tallywire}:handover"
_CHUNK = 2000
_NEWEST = 2**64 - 1
"""The last epoch that an id can have: whoever has a line has read past all its ids."""


class Follower:
    """How far a reader or writer has come: number and chain of the last line, each sender's watermark, the last epoch.

    It belongs to one connection's thread at a time, and outlives the connection.
    """

    def __init__(self, last: int = 0, head: bytes = GENESIS) -> None:
        self.last = last
        self.head = head
        self.marks: dict[str, int] = {}
        self.epoch = 0

    @classmethod
    def after(cls, client: RedisClient, number: int) -> Follower:
        """Give a follower that has come up to a line. Raises JournalDamaged when there is no such line."""
        head = cls.head_at(client, number)
        if head is None:
            raise JournalDamaged(f"found no line {number} at {client.place}, expected one: the stream was cut")
        return cls(number, head)

    @staticmethod
    def head_at(client: RedisClient, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        if number == 0:
            return GENESIS
        there = client.ask("XRANGE", LINES, number, number, "COUNT", 1)
        return parsed(there[0])[1] if there else None

    def take(self, client: RedisClient, *, limit: int = _CHUNK, until: int | None = None) -> list[Line]:
        """Give the next lines, at most `limit` and none above `until`. Raises JournalDamaged."""
        end = "+" if until is None else until
        if until is not None and self.last >= until:
            return []
        return self._checked(client.ask("XRANGE", LINES, self.last + 1, end, "COUNT", limit), client)

    def wait(self, client: RedisClient, *, wait_ms: int) -> list[Line]:
        """Give the next lines as soon as there are some; none when none came for so long. Raises JournalDamaged."""
        after = f"{self.last}-{_NEWEST}"
        answer = client.ask("XREAD", "COUNT", _CHUNK, "BLOCK", wait_ms, "STREAMS", LINES, after)
        return self._checked(answer[0][1], client) if answer else []

    def check(self, client: RedisClient, *, begins_again: bool = False) -> None:
        """Take all there is, and hold its end and its watermarks against what the server has. Raises JournalDamaged.

        Where the server no longer has the line this follower has come to, it may begin again with the first.
        """
        if self.head_at(client, self.last) != self.head:
            if not begins_again:
                raise JournalDamaged(f"found no line {self.last} at {client.place} as it was read before: start again")
            self.last, self.head, self.marks = 0, GENESIS, {}
        while self.take(client):
            pass
        state, length, marks = client.ask_all(
            [("HMGET", STATE, "last", "head"), ("XLEN", LINES), ("HGETALL", MARKS)],
        )
        if state != [b"%d" % self.last, self.head] or length != self.last:
            raise JournalDamaged(
                f"found {length} lines at {client.place} that end in line {self.last}, expected line "
                f"{_text(state[0])} as its state says: nothing was changed; restore the server's files"
            )
        kept = {sender.decode(): int(mark) for sender, mark in zip(marks[::2], marks[1::2], strict=True)}
        if kept != self.marks:
            wrong = sorted(set(kept.items()) ^ set(self.marks.items()))[0][0]
            raise JournalDamaged(
                f'found watermark {kept.get(wrong)} of sender "{wrong}" at {client.place}, expected '
                f"{self.marks.get(wrong)} as its lines say: nothing was changed; restore the server's files"
            )

    def _checked(self, entries: Sequence[Any], client: RedisClient) -> list[Line]:
        """Read entries in one go: whoever joins late reads very many."""
        lines: list[Line] = []
        last, head, marks = self.last, self.head, self.marks
        for entry in entries:
            line, chain = parsed(entry)
            head, last = chained(head, line), last + 1
            if chain != head or line.number != last:
                raise JournalDamaged(
                    f"found line {line.number} at {client.place} after line {last - 1}, expected the next with its own "
                    "checksum: it was changed, or lines before it are missing"
                )
            lines.append(line)
            if line.sequence > marks.get(line.sender, 0):
                marks[line.sender] = line.sequence
        self.last, self.head = last, head
        return lines

    def note(self, line: Line, head: bytes) -> None:
        """Come as far as a line, whose chain is `head`."""
        self.last, self.head = line.number, head
        self.marks[line.sender] = max(line.sequence, self.marks.get(line.sender, 0))


def parsed(entry: Any) -> tuple[Line, bytes]:
    """Read an entry: its id is `NUMBER-EPOCH`, its fields stand in the order in which append.lua writes them."""
    name, fields = entry
    number = int(name.partition(b"-")[0])
    refusal = fields[11] if len(fields) > 10 else None
    line = Line(number, int(fields[1]), fields[3].decode(), int(fields[5]), fields[7], refusal)
    return line, fields[9]


def _text(value: bytes | None) -> str:
    return "none" if value is None else value.decode()
