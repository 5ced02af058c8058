"""What a journal promises; every back end passes the same contract tests (tests/shell/journal_contract.py)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

from tallywire.core.errors import JournalFailed


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A line about to be written: who sent it, under which of the sender's own numbers, and its JSON bytes.

    `refusal` is None for an accepted fact; else the JSON bytes of the error it was refused with. A refused fact is
    written all the same, so that the sender's queue moves on and nothing is lost.
    """

    sender: str
    sequence: int
    body: bytes
    refusal: bytes | None = None

    def as_line(self, number: int, *, received_unix_ms: int) -> Line:
        """Give the line that this draft becomes under `number`."""
        return Line(
            number=number,
            received_unix_ms=received_unix_ms,
            sender=self.sender,
            sequence=self.sequence,
            body=self.body,
            refusal=self.refusal,
        )


class Line(NamedTuple):
    """A line as it stands in the journal: `number` counts from 1 without a gap; `received_unix_ms` is wall time.

    A named tuple because a journal has very many of them: made from a row in a fifth of a dataclass's time.
    """

    number: int
    received_unix_ms: int
    sender: str
    sequence: int
    body: bytes
    refusal: bytes | None


Row = Sequence[Any]
"""A line's six values, and perhaps more behind them: very many rows are read at a start, most of them for one value."""


def line_of(row: Row) -> Line:
    """Give the line of a row."""
    return Line._make(row[:6])


def draft_of(line: Line) -> Draft:
    """Give the draft that becomes this line again, in another journal or anew in this one."""
    return Draft(sender=line.sender, sequence=line.sequence, body=line.body, refusal=line.refusal)


class Journal(Protocol):
    """An append-only list of lines. One process writes; a line is durable before `append` returns."""

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write the drafts in order, all or none, and return them as lines once they are durable.

        Their numbers follow each other, and calls are numbered in the order in which they were made. A task that is
        cancelled while it waits may find its drafts written.

        Raises JournalFailed when they may not be durable: the journal refuses everything from then on, and only
        opening it again tells what it holds. A draft whose (sender, sequence) is already there is a caller's error:
        JournalFailed too.
        """
        ...

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines with a number above `after`, in order, those appended meanwhile too. May block."""
        ...

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        ...

    def note(self, key: str) -> str | None:
        """Give what was kept under `key` by `set_note`, or None. Notes describe the journal (mode, competition)."""
        ...

    def set_note(self, key: str, value: str) -> None:
        """Keep a short description, durably. A key that is already set to another value raises JournalFailed.

        Nothing was written then: the journal stays in use.
        """
        ...

    async def close(self) -> None:
        """Finish everything queued, then release the files; from then on everything is refused.

        Closing twice is harmless.
        """
        ...


def check_same_note(key: str, *, kept: str, value: str) -> None:
    """Raise JournalFailed when a note that is set already would change."""
    if kept != value:
        raise JournalFailed(f"found {key} {kept!r} in the journal, expected {value!r}: choose another journal")
