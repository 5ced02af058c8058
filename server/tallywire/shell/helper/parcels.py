"""What goes through the pipe to the helper's own process and back: pickles, each behind its length.

Both ends are the same program, of the same user, with nobody in between: nothing that a client sent is ever unpickled.
Facts go as rows of plain values by kind, which costs the event loop a sixth of pickling them as they are.
"""

from __future__ import annotations

import pickle
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, fields
from operator import attrgetter
from struct import Struct
from typing import Any

from tallywire.core.facts import Fact
from tallywire.wire.fact_lines import BY_NAME
from tallywire.wire.trusted_lines import trusted_rows

HEAD = Struct("!I")
"""The length of a message, in front of it."""


@dataclass(frozen=True, slots=True)
class Ready:
    """The process stands, and can be asked."""


@dataclass(frozen=True, slots=True)
class Anew:
    """Forget every fact."""


@dataclass(frozen=True, slots=True)
class FactRows:
    """Facts, as rows of the values of their fields by kind."""

    by_kind: Sequence[tuple[type[Fact], Sequence[tuple[Any, ...]]]]


@dataclass(frozen=True, slots=True)
class Reply:
    """An answer; without one, what went wrong, for the log."""

    answer: Any
    error: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """A line for the server's log."""

    logger: str
    level: int
    text: str


def parcel(message: object) -> bytes:
    """Pack a message."""
    body = pickle.dumps(message, 5)
    return HEAD.pack(len(body)) + body


def unpack(body: bytes) -> Any:
    """Give the message behind its length."""
    return pickle.loads(body)  # noqa: S301


def rows_of(facts: Sequence[Fact]) -> FactRows:
    """Lay facts out as rows."""
    by_kind: defaultdict[type[Fact], list[tuple[Any, ...]]] = defaultdict(list)
    for fact in facts:
        by_kind[type(fact)].append(_ROW[type(fact)](fact))
    return FactRows(tuple(by_kind.items()))


def facts_of(rows: FactRows) -> list[Fact]:
    """Make the facts again, in another order."""
    return [fact for kind, values in rows.by_kind for fact in trusted_rows(kind, values)]


_ROW = {kind: attrgetter(*(each.name for each in fields(kind))) for kind in BY_NAME.values()}
