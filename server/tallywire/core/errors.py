"""The one tree of errors.

::

    TallywireError            something the caller can act on; has a stable `code` for the wire
    ├── BadMessage            a message that cannot be read (syntax, size, shape)
    ├── NotAllowed            the role, key or origin does not allow it
    │   └── LinkEnded         the link of an open connection was taken back, or its time is over
    ├── UnknownLink           there is no link of this id
    ├── AheadOfClock          a fact's time has not come yet by the server's clock: told to the table
    ├── SequenceGap           a sender skipped a number: the expected one is named
    ├── FactRefused           a readable fact that this competition cannot take
    ├── BadFile               a competition file, start list, recording or page's module with problems, all listed
    └── JournalFailed         the journal can no longer promise durability: stop and recover from disk
        ├── JournalInUse      another process has it
        │   └── JournalTaken  another process has taken it over, under a later epoch
        ├── JournalDamaged    its files are not what was written: facts are missing or changed
        ├── JournalFull       its disk has no room
        └── JournalAway       its server is not there, or cannot take facts just now

Messages are lower case without a full stop; they say what was found and what was expected.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class TallywireError(Exception):
    """Base of every error a caller is meant to handle; `code` is stable and travels on the wire."""

    code = "error"

    def as_data(self) -> dict[str, object]:
        """Give the error as plain data for the wire: at least `code` and `message`."""
        return {"code": self.code, "message": str(self)}


class BadMessage(TallywireError):
    """A message that cannot be read."""

    code = "bad_message"

    def __init__(self, message: str, *, path: str = "") -> None:
        super().__init__(f"{path}: {message}" if path else message)
        self.path = path

    def as_data(self) -> dict[str, object]:
        """Add the path inside the message where the problem is, when there is one."""
        return super().as_data() | ({"path": self.path} if self.path else {})


class NotAllowed(TallywireError):
    """The role, key or origin does not allow what was asked."""

    code = "not_allowed"


class LinkEnded(NotAllowed):
    """The link that a connection came with was taken back, or its time is over: the connection ends."""

    code = "link_ended"


class UnknownLink(TallywireError):
    """There is no link of this id."""

    code = "unknown_link"


class AheadOfClock(TallywireError):
    """A fact's time has not come yet by the server's clock. It is taken all the same; the table is told."""

    code = "ahead_of_clock"


class SequenceGap(TallywireError):
    """A sender's number is ahead of the next one expected."""

    code = "sequence_gap"

    def __init__(self, *, expected: int, found: int) -> None:
        super().__init__(f"found sequence {found}, expected {expected}: send from {expected} on")
        self.expected = expected
        self.found = found

    def as_data(self) -> dict[str, object]:
        """Add the number expected and the number found."""
        return super().as_data() | {"expected": self.expected, "found": self.found}


class FactRefused(TallywireError):
    """A readable fact that this competition cannot take, for instance one for a lane that is not in the heat."""

    code = "fact_refused"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a file: `path` inside it, what was `found`, what was `expected`."""

    path: str
    found: str
    expected: str

    def __str__(self) -> str:
        return f"{self.path}: found {self.found}, expected {self.expected}"


class BadFile(TallywireError):
    """A file with problems; all of them are listed in `problems`."""

    code = "bad_file"

    def __init__(self, name: str, problems: Sequence[Problem]) -> None:
        self.name = name
        self.problems = tuple(problems)
        lines = "\n".join(f"  {problem}" for problem in self.problems)
        count = len(self.problems)
        super().__init__(f"{name}: {count} problem{'s' if count != 1 else ''}\n{lines}")


class JournalFailed(TallywireError):
    """The journal can no longer promise durability; the process must stop and recover from disk."""

    code = "journal_failed"


class JournalInUse(JournalFailed):
    """Another process has the journal; nothing is wrong with it."""


class JournalTaken(JournalInUse):
    """Another process has taken the journal over: what this one still writes is refused."""


class JournalDamaged(JournalFailed):
    """The journal's files are not what was written; nothing was changed, and the message names the way on."""


class JournalFull(JournalFailed):
    """The journal's disk has no room; opening it again, once there is some, tells what it holds."""


class JournalAway(JournalFailed):
    """The journal's server is not there, or cannot take facts just now; opening it again tells what it holds."""
