"""What a journal's thread needs of the place where it keeps lines: a file of its own, or a server."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from tallywire.shell.journal.port import Draft, Line


class LineStore(Protocol):
    """Lines and notes, used only by the one thread that owns them: plain calls, no waiting, no sharing.

    The calls are those of the Journal port, whose promises they keep; each raises JournalFailed, or an error of the
    place, when it cannot.
    """

    @property
    def last(self) -> int:
        """The number of the last line."""
        ...

    def write(self, groups: Sequence[tuple[Sequence[Draft], int]]) -> list[list[Line]]:
        """Number the drafts of each (drafts, received_unix_ms) in order and commit all of them at once, durably."""
        ...

    def read(self, *, after: int, limit: int) -> list[Line]:
        """Give at most `limit` lines with a number above `after`, in order."""
        ...

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        ...

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        ...

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        ...

    def notes(self) -> Mapping[str, str]:
        """Give every note."""
        ...

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        ...

    def force_seal(self, *, is_idle: bool = False) -> None:
        """Force what vouches for the lines to be durable, if it has waited long enough or there is nothing to do."""
        ...
