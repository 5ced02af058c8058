"""The journal of a rehearsal: a recording as far as it has been played, with what the crew did on the way.

It is kept in memory alone. Going back takes back what the crew did after that moment; the recording stays as it is.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from tallywire.core.errors import JournalFailed
from tallywire.core.facts import Fact
from tallywire.core.rehearsal.placing import Placed
from tallywire.shell.journal.port import Draft, Journal, Line
from tallywire.shell.pace import Pace
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.trusted_lines import trusted_fact


@dataclass(frozen=True, slots=True)
class _Turn:
    """A fact at a time in Unix milliseconds of the recording; a `draft` is what the crew sent, taken or refused."""

    at_ms: int
    fact: Fact | None
    draft: Draft | None = None

    def line(self, number: int) -> Line:
        draft = self.draft
        if draft is None and self.fact is not None:
            draft = Draft(sender=self.fact.sender, sequence=self.fact.sequence, body=fact_line(self.fact))
        return (draft or _NOTHING).as_line(number, received_unix_ms=self.at_ms)


_NOTHING = Draft(sender="", sequence=0, body=b"")


class Reel:
    """A Journal. `pace` says which recorded time it is; notes are kept by the journal of the data folder."""

    def __init__(self, placed: Sequence[Placed], *, kept: Journal) -> None:
        self.pace = Pace()
        self._kept = kept
        self._turns = [_Turn(each.at_ms, each.fact) for each in placed]
        self.position = 0
        """How many of its lines there have been."""
        self._closed = False

    def put(self, placed: Sequence[Placed]) -> None:
        """Replace the recording; what the crew did stays. Then turn to the moment at which the rehearsal is."""
        own = [turn for turn in self._turns if turn.draft is not None]
        self._turns = sorted([*(_Turn(each.at_ms, each.fact) for each in placed), *own], key=lambda each: each.at_ms)

    def turn_to(self, at_ms: int) -> list[Fact]:
        """Be at a recorded time, forgetting what the crew did after it. Gives the facts until then."""
        self._turns = [turn for turn in self._turns if turn.draft is None or turn.at_ms <= at_ms]
        self.position = bisect_right(self._turns, at_ms, key=lambda turn: turn.at_ms)
        return [turn.fact for turn in self._turns[: self.position] if turn.fact is not None]

    def play_to(self, at_ms: int) -> list[Fact]:
        """Go on to a recorded time, and give the facts on the way."""
        begin = self.position
        while self.position < len(self._turns) and self._turns[self.position].at_ms <= at_ms:
            self.position += 1
        return [turn.fact for turn in self._turns[begin : self.position] if turn.fact is not None]

    @property
    def next_ms(self) -> int | None:
        """The recorded time of what comes next; None at the end."""
        return self._turns[self.position].at_ms if self.position < len(self._turns) else None

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Keep what the crew sent as of now."""
        if self._closed:
            raise JournalFailed("the journal is closed: open it again")
        before_ms = self._turns[self.position - 1].at_ms if self.position else 0
        at_ms = max(before_ms, self.pace.recorded_at(received_unix_ms))
        facts = [None if draft.refusal is not None else trusted_fact(draft.body) for draft in drafts]
        turns = [_Turn(at_ms, fact, draft) for fact, draft in zip(facts, drafts, strict=True)]
        self._turns[self.position : self.position] = turns
        first, self.position = self.position, self.position + len(turns)
        return [turn.line(number) for number, turn in enumerate(turns, start=first + 1)]

    def read(self, *, after: int = 0) -> Iterator[Line]:
        """Give the lines that there have been until now."""
        for number, turn in enumerate(self._turns[after : self.position], start=after + 1):
            yield turn.line(number)

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        marks: dict[str, int] = {}
        for line in self.read():
            marks[line.sender] = max(line.sequence, marks.get(line.sender, 0))
        return marks

    def note(self, key: str) -> str | None:
        """Give what the journal of the data folder says of itself."""
        return self._kept.note(key)

    def set_note(self, key: str, value: str) -> None:
        """Keep it there. Raises JournalFailed when that journal is a live one."""
        self._kept.set_note(key, value)

    async def close(self) -> None:
        """Take nothing more."""
        self._closed = True
        await self._kept.close()
