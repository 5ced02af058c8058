"""The thread that owns a journal's store: everything that queued while its last commit ran is committed together."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import AbstractContextManager
from queue import Empty, SimpleQueue
from typing import Any, Generic, TypeVar

from tallywire.core.errors import JournalFailed, JournalFull
from tallywire.shell.journal.examine import is_of_the_system
from tallywire.shell.journal.jobs import Append, Call, answer
from tallywire.shell.journal.line_file import is_full
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.journal.seal import LAG_S
from tallywire.shell.journal.store import LineStore

S = TypeVar("S", bound=LineStore)
T = TypeVar("T")
_Job = Append | Call[Any, Any]
_log = logging.getLogger(__name__)


class Committer(Generic[S]):
    """Runs every use of a LineStore on one thread, appends in groups; after the first error it refuses everything.

    There is no timed window: a group is everything that queued while the last commit ran. The queue needs no bound of
    its own, since each caller waits for its lines, so the number of callers is the bound.
    """

    def __init__(self, open_store: Callable[[], AbstractContextManager[S]]) -> None:
        self._open_store = open_store
        self._queue: SimpleQueue[_Job | None] = SimpleQueue()
        self._taken: list[_Job] = []
        self._gate = threading.Lock()
        self._refusal: JournalFailed | None = None
        # A daemon thread: a journal that nobody closed must not keep a failing process alive; what it acknowledged is
        # safe.
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    async def append(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        """Hand the drafts to the thread and give their lines once committed; JournalFailed when they may not be."""
        loop = asyncio.get_running_loop()
        lines: asyncio.Future[Sequence[Line]] = loop.create_future()
        self._put(Append(drafts=drafts, received_unix_ms=received_unix_ms, loop=loop, lines=lines))
        return await lines

    def call(self, function: Callable[[S], T]) -> T:
        """Run `function` on the thread, after what is queued, and give its result; blocks until then."""
        result: Future[T] = Future()
        self._put(Call(function=function, result=result))
        return result.result()

    async def close(self) -> None:
        """Finish everything queued and end the thread, which closes the store. Closing twice is harmless."""
        with self._gate:
            if self._refusal is None:
                self._refusal = JournalFailed("the journal is closed: open it again")
                self._queue.put(None)
        await asyncio.to_thread(self._thread.join)

    def _put(self, job: _Job) -> None:
        # This holds the gate, so that nothing is queued behind the end mark, or after a failure has emptied the queue.
        with self._gate:
            if self._refusal is not None:
                raise _copy(self._refusal)
            self._queue.put(job)

    def _run(self) -> None:
        try:
            with self._open_store() as store:
                while self._serve(store):
                    store.force_seal()
        except Exception as exc:
            # Whatever the error was, the handle is never used again: a write that failed once can seem to succeed
            # later.
            self._fail(_as_refusal(exc))

    def _serve(self, store: S) -> bool:
        jobs = self._take_queued(store)
        self._taken = [job for job in jobs if job is not None]
        appends = [job for job in self._taken if isinstance(job, Append)]
        answer(appends, store.write([(append.drafts, append.received_unix_ms) for append in appends]))
        for job in self._taken:
            if isinstance(job, Call):
                job.run(store)
        return None not in jobs

    def _take_queued(self, store: S | None = None) -> list[_Job | None]:
        jobs = [self._first(store)]
        while not self._queue.empty():
            jobs.append(self._queue.get())
        return jobs

    def _first(self, store: S | None) -> _Job | None:
        try:
            return self._queue.get(timeout=LAG_S)
        except Empty:
            if store is not None:
                store.force_seal(is_idle=True)
            return self._queue.get()

    def _fail(self, refusal: JournalFailed) -> None:
        with self._gate:
            self._refusal = refusal
            while not self._queue.empty():
                self._taken.extend(job for job in self._take_queued() if job is not None)
        for job in self._taken:
            job.fail(_copy(refusal))


def _as_refusal(exc: Exception) -> JournalFailed:
    if isinstance(exc, JournalFailed):
        return exc
    kind = JournalFull if is_full(exc) else JournalFailed
    if not is_of_the_system(exc):
        _log.error("the journal failed", exc_info=exc)
    # A disk that fails is no fault of the program: those who use the journal say what it was, in one message.
    refusal = kind(f"the journal failed ({exc}): stop, and start again to recover from disk")
    refusal.__cause__ = exc
    return refusal


def _copy(refusal: JournalFailed) -> JournalFailed:
    # One exception raised in many tasks would collect all their tracebacks.
    copy = type(refusal)(str(refusal))
    copy.__cause__ = refusal.__cause__
    return copy
