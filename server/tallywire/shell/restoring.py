"""Taking what a journal holds: very many lines at once, before anything is shown."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence

from tallywire.core.errors import JournalFailed
from tallywire.core.facts import Fact
from tallywire.shell.books import Books, Change
from tallywire.shell.collection import uncollected
from tallywire.shell.journal.port import Line
from tallywire.shell.log_forms import about
from tallywire.shell.public_tape import Tape
from tallywire.wire.senders import Received, Senders
from tallywire.wire.trusted_lines import trusted_fact, trusted_facts

_CHUNK = 2000
_log = logging.getLogger(__name__)


class Restoring:
    """Hands lines to books, senders and tape; `lines` counts them, `last_ms` is when the last one was received."""

    def __init__(self, books: Books, senders: Senders, tape: Tape) -> None:
        self._books = books
        self._senders = senders
        self._tape = tape
        self.lines = 0
        self.last_ms: int | None = None

    def take(self, lines: Iterable[Line]) -> None:
        """Take lines. Where reading them fails midway, those read until then have been taken. Raises JournalFailed.

        Facts go into the books all at once, but those of the last minute, of which the tape wants to know.
        """
        facts, chunk = list[Fact](), list[Line]()
        with uncollected():
            try:
                for line in lines:
                    chunk.append(line)
                    if len(chunk) == _CHUNK:
                        self._take_chunk(chunk, facts)
                        chunk.clear()
            finally:
                self._take_chunk(chunk, facts)
                self._books.fill(facts)

    def _take_chunk(self, chunk: Sequence[Line], facts: list[Fact]) -> None:
        if not chunk:
            return
        self.last_ms = chunk[-1].received_unix_ms
        if not self._tape.listens(max(line.received_unix_ms for line in chunk)):
            facts += self._old(chunk)
            return
        self._books.fill(facts)
        facts.clear()
        for line in chunk:
            self._recent(line)

    def _old(self, chunk: Sequence[Line]) -> list[Fact]:
        accepted = [line for line in chunk if line.refusal is None]
        facts = trusted_facts(line.body for line in accepted)
        self._check({fact.heat for fact in facts})
        self._senders.restore_facts(facts)
        for line in chunk:
            if line.refusal is not None:
                self._senders.restore(entry_of(line))
        self._tape.pass_lines(chunk[-1].received_unix_ms, count=len(chunk))
        self.lines += len(chunk)
        return facts

    def _recent(self, line: Line) -> None:
        entry = entry_of(line)
        self._check(set() if entry.fact is None else {entry.fact.heat})
        self._tape.pass_lines(line.received_unix_ms)
        self._senders.restore(entry)
        self.lines += 1
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
