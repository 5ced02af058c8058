"""A whole server without its sockets: facts come as texts and leave as frames, on a clock that is told what to say."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from itertools import islice
from typing import Any

from tallywire.core.facts import Fact, RepCounted
from tallywire.core.model.competition import Competition
from tallywire.measure.long_heat import APART_MS, START_UNIX_MS, sender_of, started, taps
from tallywire.measure.plug import message
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.keys import make_keys
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.transport import TransportListener
from tallywire.web.client import Client
from tallywire.wire.fact_lines import fact_data

TICK_S = 0.05
"""Time from one tap to the next: longer than the fan-out waits between frames, so that each tap has its own."""


class Sink:
    """A transport that counts what it is sent and always has room."""

    is_open = True
    is_ready = True

    def __init__(self) -> None:
        self.frames = 0
        self.bytes = 0
        self.came = asyncio.Event()

    def write(self, frame: bytes) -> None:
        """Count a frame."""
        self.frames += 1
        self.bytes += len(frame)
        self.came.set()

    def write_all(self, frames: Sequence[bytes]) -> None:
        """Count several frames."""
        for frame in frames:
            self.write(frame)

    def say(self, payload: bytes) -> None:
        """Count a text."""
        self.write(payload)

    def listen(self, listener: TransportListener) -> None:
        """Nothing is ever told."""

    async def ready(self) -> None:
        """There is room."""

    async def flush(self) -> None:
        """Nothing waits."""

    def abort(self) -> None:
        """Nothing is left to cut."""


class _NoWorker:
    """Works nothing out: calls and standings are measured elsewhere."""

    def run(self, _work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Say that there is nothing."""
        done(None)

    def close(self) -> None:
        """Nothing waits."""


class DryRun:
    """A heat on the floor into which taps come, one a tick."""

    def __init__(self, competition: Competition) -> None:
        self.competition = competition
        [heat] = competition.heats.values()
        self.lanes = len(heat.lanes)
        self.clock = FakeClock(unix_ms=START_UNIX_MS)
        keys, links = make_keys(competition.places), Links(now_ms=self.clock.unix_ms)
        links.begin(keys)
        self.live = LiveCompetition(
            competition,
            journal=MemoryJournal(),
            clock=self.clock,
            links=links,
            options=RunOptions(make_worker=_NoWorker),
        )
        self.live.replay()
        self._senders = {"table-m": self._joined(role="table", key=keys.table, sender="table-m")}
        for lane in heat.lanes:
            self._senders[sender_of(lane)] = self._joined(
                role="lane", lane=lane, key=keys.lane(lane), sender=sender_of(lane)
            )
        self._watcher = self._joined(role="table", key=keys.table, sender="table-w")
        self.coming = taps(lanes=self.lanes)

    def _joined(self, **hello: str | int) -> tuple[Client, Sink]:
        sink = Sink()
        client = Client(self.live, sink)
        client.hear(message(type="hello", **hello))
        return client, sink

    @property
    def sink(self) -> Sink:
        """Where the frames of the views go that are watched."""
        return self._watcher[1]

    def watch(self, views: Sequence[str]) -> None:
        """Watch views of the heat, all on one connection."""
        for view in views:
            self._watcher[0].hear(message(type="watch", view=view))

    async def begin(self, facts: int) -> None:
        """Start the heat, and let so many taps come in at once."""
        await self.send(started())
        for first in range(0, facts, self.lanes):
            self.clock.jump(self.lanes * APART_MS / 1000)
            for fact in islice(self.coming, min(self.lanes, facts - first)):
                await self.send(fact)

    async def send(self, fact: Fact) -> None:
        """Send a fact, and wait until it is answered."""
        client, sink = self._senders[fact.sender]
        sink.came.clear()
        client.hear(message(type="facts", facts=[fact_data(fact)]))
        await sink.came.wait()

    async def tap(self) -> None:
        """Let a tap come, and everything be sent that follows from it."""
        fact: RepCounted = next(self.coming)
        self.clock.jump(TICK_S)
        await self.send(fact)
        self.clock.jump(TICK_S)

    async def tap_ms(self, times: int) -> float:
        """Give the processor milliseconds of the event loop's thread for a tap, on average of several."""
        spent = 0.0
        for _ in range(times):
            begun = time.thread_time()
            await self.tap()
            spent += time.thread_time() - begun
        return spent * 1000 / times


@asynccontextmanager
async def dry_run(competition: Competition, *, facts: int, views: Sequence[str]) -> AsyncIterator[DryRun]:
    """Give a heat that has so many facts already, with views that are watched."""
    run = DryRun(competition)
    recording = asyncio.create_task(run.live.recorder.run())
    await run.begin(facts)
    run.watch(views)
    try:
        yield run
    finally:
        run.live.recorder.close()
        await recording
        run.live.close()
