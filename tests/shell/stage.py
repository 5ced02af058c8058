"""Help for tests of the shell: a live competition in memory with a fake clock, transports that keep what they get."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from functools import reduce
from typing import Any

import orjson

from core.samples import HEAT, competition
from tallywire.core.errors import JournalFailed
from tallywire.core.facts import HeatCalled
from tallywire.core.model.competition import Competition, FloorLane
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.port import Draft, Journal, Line
from tallywire.shell.keys import Keys
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.restoring import OldLines
from tallywire.shell.transport import TransportListener
from tallywire.web.client import Client
from tallywire.wire.merge_patch import apply
from tallywire.wire.short_frame import Shortener
from tallywire.wire.text_frame import frame_payload
from tallywire.wire.trusted_lines import trusted_fact
from wire.talk import KEYS, text

START_UNIX_MS = 1_800_000_000_000
"""When the sample heats start."""


WATCH = text(type="watch", view="heat")


class FakeTransport:
    """A transport whose client reads when it is told to. `bound` frames may wait before it pauses."""

    def __init__(self, *, bound: int = 1_000_000) -> None:
        self.is_open = True
        self.aborted = False
        self.frames: list[bytes] = []
        self.bound = bound
        self.unread = 0
        self._paused = False
        self._listener: TransportListener | None = None

    def write(self, frame: bytes) -> None:
        """Keep a frame, and pause as a full transport does: from inside the write."""
        assert self.is_open, "written to after the close"
        self.frames.append(frame)
        self.unread += 1
        if self.unread > self.bound and not self._paused:
            self._paused = True
            if self._listener is not None:
                self._listener.paused()

    def write_all(self, frames: Sequence[bytes]) -> None:
        """Keep several frames."""
        for frame in frames:
            self.write(frame)

    def say(self, payload: bytes) -> None:
        """Keep text as a frame, unless closed."""
        if self.is_open:
            head = bytes((0x81, 127)) + len(payload).to_bytes(8, "big")
            self.write(head + payload)

    def listen(self, listener: TransportListener) -> None:
        """Tell this listener."""
        self._listener = listener

    @property
    def is_ready(self) -> bool:
        """There is always room."""
        return True

    async def ready(self) -> None:
        """There is always room."""

    async def flush(self) -> None:
        """Nothing waits."""

    def read_all(self) -> None:
        """Let the client read everything."""
        self.unread = 0
        if self._paused:
            self._paused = False
            if self._listener is not None:
                self._listener.resumed()

    def close(self) -> None:
        """Begin to close."""
        self.is_open = False
        if self._listener is not None:
            self._listener.closed()

    def abort(self) -> None:
        """Cut off."""
        self.aborted = True
        self.close()

    @property
    def messages(self) -> list[dict[str, Any]]:
        """Everything sent, as data."""
        return [orjson.loads(frame_payload(frame)) for frame in self.frames]

    def of_type(self, kind: str) -> list[dict[str, Any]]:
        """The messages of one type."""
        return [message for message in self.messages if message["type"] == kind]

    def shown(self, view: str = "heat") -> dict[str, Any]:
        """The frame a client of this view has now, put together as a page does it; numbers must follow each other."""
        frame: dict[str, Any] = {}
        number = 0
        for message in self.messages:
            if message["type"] == "snapshot" and message["view"] == view:
                frame, number = _unpacked(message), message["number"]
            elif message["type"] == "patch" and message["view"] == view:
                assert message["number"] == number + 1, "a patch is missing"
                frame, number = apply(frame, message["patch"]), number + 1
        return frame


def _unpacked(message: dict[str, Any]) -> dict[str, Any]:
    """The frame of a snapshot, with its tables as objects again where they came as rows (docs/wire.md)."""
    frame: dict[str, Any] = message["frame"]
    for pointer, names in message.get("columns", {}).items():
        *way, last = [part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:]]
        holder = reduce(lambda inner, part: inner[part], way, frame)
        table = holder[last]
        rows = table.values() if isinstance(table, dict) else table
        objects = [{name: each for name, each in zip(names, row, strict=True) if each is not None} for row in rows]
        holder[last] = dict(zip(table, objects, strict=True)) if isinstance(table, dict) else objects
    return frame


def sample_keys() -> Keys:
    """The keys of `wire.talk`."""
    lanes = {FloorLane(lane=lane): key for (role, lane), key in KEYS.items() if role == "lane" and lane}
    return Keys(KEYS["table", None], lanes, "desk-key")


def sample_links() -> Links:
    """Links with these keys."""
    links = Links(now_ms=lambda: START_UNIX_MS)
    links.begin(sample_keys())
    return links


def call_all(books: Books, heats: Sequence[str] | None = None) -> None:
    """Let lanes count in heats, as after their call to the floor, with no line in the journal; the first on top."""
    called = list(books.competition.heats) if heats is None else heats
    for number, heat in enumerate(reversed(called)):
        fact = HeatCalled(id=f"call-{heat}", heat=heat, at_ms=0, sender="table-0", sequence=1 + number, unix_ms=number)
        books.add(fact, Change())


def live_on(
    journal: Journal,
    *,
    clock: FakeClock | None = None,
    work: Competition | None = None,
    options: RunOptions | None = None,
    read: OldLines | None = None,
) -> LiveCompetition:
    """A live competition that has replayed its journal, of which `read` was read when it was opened."""
    live = LiveCompetition(
        work or competition(),
        journal=journal,
        clock=clock or FakeClock(unix_ms=START_UNIX_MS),
        links=sample_links(),
        options=options or RunOptions(),
    )
    live.replay(read)
    call_all(live.books)
    return live


def frame_now(live: LiveCompetition, view: str, heat: str) -> dict[str, Any]:
    """The frame of a view now."""
    return live.read_model.frame(view, heat, live.read_model.snapshot())


def sent_now(live: LiveCompetition, view: str, heat: str) -> dict[str, Any]:
    """The frame of a view now as the wire has it: without what follows from the rest of it."""
    return dict(Shortener().shorten(frame_now(live, view, heat)))


@asynccontextmanager
async def recording(live: LiveCompetition) -> AsyncIterator[None]:
    """Run a live competition's recorder, and let it finish."""
    task = asyncio.create_task(live.recorder.run())
    try:
        yield
    finally:
        live.recorder.close()
        await task


async def settled(done: Callable[[], bool]) -> None:
    """Let other tasks and threads run until `done`; one that never comes about ends with pytest's own time limit."""
    for _ in itertools.count():
        if done():
            return
        await asyncio.sleep(0)


async def journalled(live: LiveCompetition) -> None:
    """Wait until all that was taken is on disk and answered."""
    waiting = live.recorder
    await settled(lambda: not waiting.is_busy)


def joined(live: LiveCompetition, *messages: str, bound: int = 1_000_000) -> tuple[Client, FakeTransport]:
    """A client that has said these messages."""
    transport = FakeTransport(bound=bound)
    client = Client(live, transport)
    for message in messages:
        client.hear(message)
    return client, transport


def lines_of(journal: MemoryJournal) -> list[tuple[str, int]]:
    """Sender and sequence of every line."""
    return [(line.sender, line.sequence) for line in journal.read()]


def facts_of(journal: MemoryJournal) -> list[Any]:
    """The accepted facts in the journal."""
    return [trusted_fact(line.body) for line in journal.read() if line.refusal is None]


class GatedJournal(MemoryJournal):
    """A journal whose writes wait for the test, or fail."""

    def __init__(self) -> None:
        super().__init__()
        self.gate = asyncio.Event()
        self.fails = False

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write once the gate is open."""
        await self.gate.wait()
        if self.fails:
            raise JournalFailed("the disk is gone")
        return await super().append(drafts, received_unix_ms=received_unix_ms)


def two_heats() -> Competition:
    """The sample competition with a second heat."""
    base = competition()
    return replace(base, heats={**base.heats, "h2": replace(base.heats[HEAT], id="h2", name="Heat 2")})
