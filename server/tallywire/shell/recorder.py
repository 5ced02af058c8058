"""The one writer of the journal: everything that queued while the last commit ran is the next commit."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tallywire.core.errors import JournalFailed
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.clock import Clock
from tallywire.shell.journal.port import Draft, Journal
from tallywire.shell.meters import Meters
from tallywire.wire.senders import Received

COMMIT_MOST = 4096
QUEUE_BOUND = 16_384


@dataclass(frozen=True, slots=True)
class Job:
    """Entries to be written, and the function to call with a snapshot once they, and all before them, are durable.

    `since_s` says when they came, by the clock's `now`.
    """

    entries: Sequence[Received]
    done: Callable[[Snapshot], None]
    since_s: float


class Recorder:
    """Writes jobs in the order they came, so that a repeat is answered only when what it repeats is on disk."""

    def __init__(
        self, journal: Journal, *, clock: Clock, durable: Callable[[Sequence[Job], int], None], meters: Meters
    ) -> None:
        self._journal = journal
        self._clock = clock
        self._meters = meters
        self._durable = durable
        self._jobs: deque[Job] = deque()
        self._waiting = 0
        self._wake = asyncio.Event()
        self._room = asyncio.Event()
        self._room.set()
        self._closing = False
        self._committing = False

    @property
    def is_busy(self) -> bool:
        """True while a job is queued or being written."""
        return self._committing or bool(self._jobs)

    def keep(self, job: Job) -> None:
        """Queue a job."""
        self._jobs.append(job)
        self._waiting += len(job.entries)
        if self._waiting > QUEUE_BOUND:
            self._room.clear()
        self._wake.set()

    @property
    def waiting(self) -> int:
        """How many entries are queued."""
        return self._waiting

    @property
    def is_ready(self) -> bool:
        """True while the queue is short enough for more."""
        return self._room.is_set()

    async def ready(self) -> None:
        """Wait until the queue is short enough for more."""
        await self._room.wait()

    async def run(self) -> None:
        """Write until `close`. Raises JournalFailed as soon as the journal cannot promise durability: then stop."""
        while not (self._closing and not self._jobs):
            await self._wake.wait()
            self._wake.clear()
            while self._jobs:
                await self._commit(self._next_jobs())

    def close(self) -> None:
        """Let `run` end once everything queued is written."""
        self._closing = True
        self._wake.set()

    async def _commit(self, jobs: Sequence[Job]) -> None:
        self._committing = True
        begun_s = self._clock.now()
        drafts, received_unix_ms = [_draft(entry) for job in jobs for entry in job.entries], self._clock.unix_ms()
        if drafts:
            lines = await self._journal.append(drafts, received_unix_ms=received_unix_ms)
            if len(lines) != len(drafts):
                raise JournalFailed(f"found {len(lines)} lines written, expected {len(drafts)}")
        durable_s = self._clock.now()
        self._durable(jobs, received_unix_ms)
        self._committing = False
        shown_s = self._clock.now()
        self._meters.commits.add(durable_s - begun_s, now=durable_s)
        self._meters.counting.add(shown_s - durable_s, now=shown_s)

    def _next_jobs(self) -> list[Job]:
        jobs = [self._jobs.popleft()]
        size = len(jobs[0].entries)
        while self._jobs and size + len(self._jobs[0].entries) <= COMMIT_MOST:
            jobs.append(self._jobs.popleft())
            size += len(jobs[-1].entries)
        self._waiting -= size
        if self._waiting <= QUEUE_BOUND:
            self._room.set()
        return jobs


def _draft(entry: Received) -> Draft:
    return Draft(sender=entry.sender, sequence=entry.sequence, body=entry.body, refusal=entry.refusal)
