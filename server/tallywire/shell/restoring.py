"""Taking what a journal holds: very many lines at once, before anything is shown."""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Iterable, Sequence

from tallywire.core.errors import JournalFailed
from tallywire.core.facts import Fact
from tallywire.shell.books import Books, Change
from tallywire.shell.collection import uncollected
from tallywire.shell.journal.port import Line, Row, line_of
from tallywire.shell.log_forms import about
from tallywire.shell.public_tape import KEPT_MS, TOLD_MS, Tape
from tallywire.wire.senders import Received, Senders
from tallywire.wire.trusted_lines import trusted_fact, trusted_facts

_CHUNK = 2000
_log = logging.getLogger(__name__)


class OldLines:
    """Lines of a journal that nobody waits for, read into facts before there are books to put them into.

    Those of the last while are kept as they are (`recent`, some at a time): from the first one on that was received
    after `until_ms`. Where lines are later than that by far, because a clock was set, the last while is that before the
    last line.
    """

    def __init__(self, *, until_ms: int) -> None:
        self._until_ms = until_ms
        self._last_ms = 0
        self.facts: list[Fact] = []
        self.refused: list[Row] = []
        self.received: list[tuple[int, int]] = []
        """When the last of some lines was received, and how many they are."""
        self.recent: deque[Sequence[Row]] = deque()

    def begin_anew(self) -> None:
        """Forget every line."""
        self._last_ms = 0
        for each in (self.facts, self.refused, self.received, self.recent):
            each.clear()

    def take(self, rows: Sequence[Row]) -> None:
        """Take the next lines."""
        last_ms = _last_of(rows)
        is_set_back = last_ms < self._last_ms - KEPT_MS
        self._last_ms = last_ms if is_set_back else max(self._last_ms, last_ms)
        while self.recent and (is_set_back or _last_of(self.recent[0]) <= self._last_ms - TOLD_MS):
            self._read(self.recent.popleft())
        if self.recent or last_ms > self._until_ms:
            self.recent.append(rows)
        else:
            self._read(rows)

    def _read(self, rows: Sequence[Row]) -> None:
        self.facts += trusted_facts([row[4] for row in rows if row[5] is None])
        self.refused += [row for row in rows if row[5] is not None]
        self.received.append((rows[-1][1], len(rows)))


def _last_of(rows: Sequence[Row]) -> int:
    """When the last of these lines was received."""
    last_ms: int = max(row[1] for row in rows)
    return last_ms


class Restoring:
    """Hands lines to books, senders and tape; `lines` counts them, `last_ms` is when the last one was received."""

    def __init__(self, books: Books, senders: Senders, tape: Tape) -> None:
        self._books = books
        self._senders = senders
        self._tape = tape
        self.lines = 0
        self.last_ms: int | None = None

    def take(self, lines: Iterable[Line]) -> None:
        """Take lines. Where reading them fails midway, those read until then have been taken. Raises JournalFailed."""
        read, chunk = OldLines(until_ms=self._tape.until_ms), list[Line]()
        with uncollected():
            try:
                for line in lines:
                    chunk.append(line)
                    if len(chunk) == _CHUNK:
                        read.take(chunk)
                        chunk = []
            finally:
                if chunk:
                    read.take(chunk)
                self.take_read(read)

    def take_read(self, read: OldLines) -> None:
        """Take lines that were read when the journal was opened, and none of them twice. Raises JournalFailed.

        Facts go into the books all at once, but those of the last while, of which the tape wants to know.
        """
        with uncollected():
            self._take_old(read)
            while read.recent:
                for row in read.recent.popleft():
                    self._recent(line_of(row))

    def _take_old(self, old: OldLines) -> None:
        """Put what was read into the books, and forget it."""
        self._check({fact.heat for fact in old.facts})
        self._senders.restore_facts(old.facts)
        for row in old.refused:
            self._senders.restore(entry_of(line_of(row)))
        for received_unix_ms, count in old.received:
            self._tape.pass_old(received_unix_ms, count=count)
            self.lines += count
            self.last_ms = received_unix_ms
        self._books.fill(old.facts)
        for each in (old.facts, old.refused, old.received):
            each.clear()

    def _recent(self, line: Line) -> None:
        entry = entry_of(line)
        self._check(set() if entry.fact is None else {entry.fact.heat})
        self._tape.pass_lines(line.received_unix_ms)
        self._senders.restore(entry)
        self.lines += 1
        self.last_ms = line.received_unix_ms
        add(self._books, entry, Change())

    def _check(self, heats: set[str]) -> None:
        unknown = heats - self._books.competition.heats.keys()
        if unknown:
            raise JournalFailed(
                f'found facts of heat "{min(unknown)}" in the journal, expected heats of the competition file: '
                "use the file it was started with"
            )


def add(books: Books, entry: Received, change: Change) -> None:
    """Count a fact that is on disk; one that cannot be counted must not stop the rest, now or at the next start."""
    if entry.fact is None:
        return
    try:
        books.add(entry.fact, change)
    except Exception:
        _log.exception("fact %s was not counted", entry.fact.id, extra=about(fact=entry.fact.id))


def entry_of(line: Line) -> Received:
    """Read a line back."""
    fact = None if line.refusal is not None else trusted_fact(line.body)
    return Received(sender=line.sender, sequence=line.sequence, body=line.body, fact=fact, refusal=line.refusal)
