"""What a tap of the demo heat costs the server, and how much is judged and built for it. Run by hand: not a test.

    PYTHONPATH=server:tests python tests/web/bench_server.py

A real server core without sockets: the second half of the demo heat's taps, one a tick, from a message's text to the
bytes of every frame; processor time of the event loop's thread. Calls and standings are not worked out.
"""

from __future__ import annotations

import asyncio
import statistics
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from core.samples import on_lanes
from shell.stage import FakeTransport, recording
from tallywire.core.facts import Fact, HeatStarted
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.registry import formats
from tallywire.shell.clock import FakeClock
from tallywire.shell.files import load_competition, load_recording
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.port import Journal
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.keys import Keys
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.web.client import Client
from wire.talk import facts, text

SCENARIOS = Path(__file__).parents[2] / "scenarios"
EIGHT = ("heat", "gaps", "result", "event", "next", "subjects", "table", "show")
"""Every view that is made from the book at once."""
TICK_S = 0.05
COUNTED = 100
"""So many of the last facts are counted, the rest timed."""
KEYS = Keys("table", {each: str(each.lane) for each in on_lanes(range(1, 11))}, "desk")


class CountingClock(FakeClock):
    """A clock that counts how often it is read."""

    def __init__(self, *, unix_ms: int) -> None:
        super().__init__(unix_ms=unix_ms)
        self.reads = 0

    def unix_ms(self) -> int:
        """Give wall time, and count."""
        self.reads += 1
        return super().unix_ms()


class NoWorker:
    """Works nothing out."""

    def run(self, work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Say that there is nothing."""
        del work
        done(None)

    def close(self) -> None:
        """Nothing waits."""


class WaitedTransport(FakeTransport):
    """A transport that says when something came."""

    def __init__(self) -> None:
        super().__init__()
        self.answered = asyncio.Event()

    def write(self, frame: bytes) -> None:
        """Keep a frame, and say so."""
        super().write(frame)
        self.answered.set()


@dataclass
class Counts:
    """How often each thing was done."""

    of: Counter[str] = field(default_factory=Counter)

    @contextmanager
    def counting(self, owner: type, name: str, called: str) -> Iterator[None]:
        """Count the calls of a method for a while."""
        was = getattr(owner, name)

        def counted(*args: Any, **kwargs: Any) -> Any:
            self.of[called] += 1
            return was(*args, **kwargs)

        setattr(owner, name, counted)
        yield
        setattr(owner, name, was)


def _links(clock: FakeClock) -> Links:
    links = Links(now_ms=clock.unix_ms)
    links.begin(KEYS)
    return links


class Stage:
    """The demo heat half-way, with watchers, and what is still to come."""

    def __init__(self, journal: Journal, views: Sequence[str]) -> None:
        recorded = load_recording(SCENARIOS / "saltmarsh-women-2.ndjson")
        [start] = [fact for fact in recorded if isinstance(fact, HeatStarted)]
        half = len(recorded) // 2
        self.clock = CountingClock(unix_ms=start.unix_ms + recorded[half].at_ms)
        self.live = LiveCompetition(
            load_competition(SCENARIOS / "saltmarsh.toml"),
            journal=journal,
            clock=self.clock,
            links=_links(self.clock),
            options=RunOptions(make_worker=NoWorker),
        )
        self.live.replay()
        self.before, self.coming = recorded[:half], recorded[half:]
        self.views = views
        self.transports: dict[str, WaitedTransport] = {}
        self.clients = {name: self._sender(name) for name in dict.fromkeys(fact.sender for fact in recorded)}

    def _sender(self, name: str) -> Client:
        self.transports[name] = WaitedTransport()
        client, role = Client(self.live, self.transports[name]), name.split("-")
        lane = {"role": "lane", "lane": int(role[1])} if role[0] == "lane" else {"role": role[0]}
        client.hear(text(type="hello", key=role[1] if role[0] == "lane" else role[0], sender=name, **lane))
        return client

    def watch(self) -> FakeTransport:
        """Let a table watch the views."""
        transport = FakeTransport()
        client = Client(self.live, transport)
        client.hear(text(type="hello", role="table", key="k", sender="table-w"))
        for view in self.views:
            client.hear(text(type="watch", view=view))
        return transport

    async def send(self, fact: Fact) -> None:
        """Send one fact and wait until it is on disk, answered and marked."""
        self.transports[fact.sender].answered.clear()
        self.clients[fact.sender].hear(facts(fact))
        await self.transports[fact.sender].answered.wait()


async def bench(journal: Journal, views: Sequence[str], label: str) -> None:
    """Print what one tap a tick costs."""
    stage = Stage(journal, views)
    async with recording(stage.live):
        for fact in stage.before:
            await stage.send(fact)
        transport = stage.watch()
        stage.clock.jump(1)
        costs = sorted([await timed(stage, fact) for fact in stage.coming[:-COUNTED]])
        counts = await counted(stage, transport)
    a_tick = "  ".join(f"{count / COUNTED:5.1f} {name}" for name, count in counts.items())
    middle, most = statistics.median(costs), costs[int(len(costs) * 0.95)]
    print(f"  {label:20} {middle:5.2f} ms (95 % within {most:5.2f})  a tick: {a_tick}")
    stage.live.close()
    await journal.close()


async def timed(stage: Stage, fact: Fact) -> float:
    """Send a fact, let the next tick come, and give the milliseconds this thread worked for it."""
    begun = time.thread_time()
    await stage.send(fact)
    stage.clock.jump(TICK_S)
    return (time.thread_time() - begun) * 1000


async def counted(stage: Stage, transport: FakeTransport) -> Counter[str]:
    """Send the last facts and count what is done for them."""
    counts, framed, read = Counts(), len(transport.frames), stage.clock.reads
    with ExitStack() as counting:
        for owner in {type(each.counting) for each in formats()}:
            counting.enter_context(counts.counting(owner, "outcome", "judgements"))
        counting.enter_context(counts.counting(HeatState, "__init__", "heat states"))
        counting.enter_context(counts.counting(LaneState, "__init__", "lane states"))
        for fact in stage.coming[-COUNTED:]:
            await timed(stage, fact)
    return counts.of + Counter({"clock reads": stage.clock.reads - read, "frames": len(transport.frames) - framed})


async def main() -> None:
    """Print one watcher and all views, on both journals."""
    for label, views in (("one watcher", ("heat",)), ("all views", EIGHT)):
        await bench(MemoryJournal(), views, f"{label}, memory")
        with tempfile.TemporaryDirectory() as folder:
            await bench(SqliteJournal.open(Path(folder) / "journal.sqlite"), views, f"{label}, sqlite")


if __name__ == "__main__":
    print("the demo heat, ten lanes, one tap a tick, medians")
    asyncio.run(main())
