"""Jobs for the journal's thread, and how that thread answers those who asked."""

from __future__ import annotations

import asyncio
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import Generic, TypeVar

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.journal.store import LineStore

S = TypeVar("S", bound=LineStore)
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Append:
    """Drafts to be committed for a task of `loop`, which waits for `lines`."""

    drafts: Sequence[Draft]
    received_unix_ms: int
    loop: asyncio.AbstractEventLoop
    lines: asyncio.Future[Sequence[Line]]

    def fail(self, error: JournalFailed) -> None:
        """Raise `error` in the waiting task."""
        _tell(self.loop, partial(_refuse, self.lines, error))


@dataclass(frozen=True, slots=True, kw_only=True)
class Call(Generic[S, T]):
    """A function of the lines' store, for a thread that is blocked until `result` is there."""

    function: Callable[[S], T]
    result: Future[T]

    def run(self, store: S) -> None:
        """Give the function's result, or its JournalFailed, which was raised before anything was written."""
        try:
            self.result.set_result(self.function(store))
        except JournalFailed as exc:
            self.result.set_exception(exc)

    def fail(self, error: JournalFailed) -> None:
        """Raise `error` in the blocked thread."""
        if not self.result.done():
            self.result.set_exception(error)


def answer(appends: Iterable[Append], written: Iterable[Sequence[Line]]) -> None:
    """Give each append its lines, which must be committed. Each loop is woken once, because that is a system call."""
    answers: dict[asyncio.AbstractEventLoop, list[tuple[Append, Sequence[Line]]]] = defaultdict(list)
    for append, lines in zip(appends, written, strict=True):
        answers[append.loop].append((append, lines))
    for loop, pairs in answers.items():
        _tell(loop, partial(_resolve, pairs))


def _resolve(pairs: Iterable[tuple[Append, Sequence[Line]]]) -> None:
    for append, lines in pairs:
        # Its task was already cancelled. The lines stand all the same.
        if not append.lines.done():
            append.lines.set_result(lines)


def _refuse(lines: asyncio.Future[Sequence[Line]], error: JournalFailed) -> None:
    if not lines.done():
        lines.set_exception(error)


def _tell(loop: asyncio.AbstractEventLoop, action: Callable[[], None]) -> None:
    # A loop that was closed raises RuntimeError: there is nobody left to tell.
    with suppress(RuntimeError):
        loop.call_soon_threadsafe(action)
