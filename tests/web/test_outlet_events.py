"""Server-sent events: the standard's own examples, and the streams of a real server, read by a public parser."""

from __future__ import annotations

import asyncio
import json
import subprocess
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import Pad, competition
from tallywire.core.outlets.rows import flat_rows, handed_out
from tallywire.shell.books import Change
from tallywire.shell.outlets import Handed
from tallywire.web import event_answer
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from tallywire.wire.event_stream import BEGINNING, HEARTBEAT, RETRY_MS, event

OVERLAY = Path(__file__).parents[1] / "overlay"
PARSE = """
  import { createParser } from "eventsource-parser";
  import { readFileSync } from "node:fs";
  const streams = JSON.parse(readFileSync(0, "utf8"));
  const read = (text) => {
    const events = [], retries = [], comments = [], errors = [];
    const parser = createParser({
      onEvent: (each) => events.push(each), onRetry: (each) => retries.push(each),
      onComment: (each) => comments.push(each), onError: (each) => errors.push(String(each)),
    });
    parser.feed(text);
    return { events, retries, comments, errors };
  };
  process.stdout.write(JSON.stringify(streams.map(read)));"""
Data = dict[str, Any]


def parsed(*streams: str) -> list[Data]:
    """Read streams by eventsource-parser 3.0.6 from npm."""
    done = subprocess.run(
        ["node", "--input-type=module", "-e", PARSE],
        cwd=OVERLAY,
        input=json.dumps(streams).encode(),
        capture_output=True,
        check=True,
    )
    found: list[Data] = json.loads(done.stdout)
    return found


def test_the_standards_examples_come_out_the_same() -> None:
    """What the standard's examples say, said by us, is read as the same events.

    Source: WHATWG HTML, section 9.2.6: the stock ticker, the four blocks (without the comment and the last block, which
    is discarded), and the two examples with an empty and a colon-less data line.
    """
    examples = {
        "data: YHOO\ndata: +2\ndata: 10\n\n": [("YHOO\n+2\n10", "", "")],
        ": test stream\n\ndata: first event\nid: 1\n\ndata:second event\nid\n\ndata:  third event\n\n": [
            ("first event", "", "1"),
            ("second event", "", ""),
            (" third event", "", ""),
        ],
        "data:test\n\ndata: test\n\n": [("test", "", ""), ("test", "", "")],
        "event: add\ndata: 73857293\n\nevent: remove\ndata: 2153\n\nevent: add\ndata: 113411\n\n": [
            ("73857293", "add", ""),
            ("2153", "remove", ""),
            ("113411", "add", ""),
        ],
    }
    ours = [b"".join(event(d.encode(), name=n, number=i) for d, n, i in told).decode() for told in examples.values()]
    found = parsed(*examples, *ours)
    kept = [[(e["data"], e.get("event") or "", e.get("id") or "") for e in each["events"]] for each in found]
    assert kept == [*examples.values(), *examples.values()]
    assert [each["errors"] for each in found] == [[]] * len(found)


@given(st.lists(st.text(alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\x00")), max_size=4))
def test_a_line_end_never_ends_an_event(lines: list[str]) -> None:
    """Whatever stands in the data, and however its lines end, it is one event: no field or event can be smuggled in."""
    data = "\n".join(lines)
    raw = event(data.encode(), name="frame", number="x1").decode()
    body = raw.removeprefix("event: frame\nid: x1\n").removesuffix("\n")
    assert "\r" not in body
    assert all(line.startswith("data: ") for line in body.removesuffix("\n").split("\n"))
    assert raw.count("\n\n") == 1


def test_the_beginning_and_the_heartbeat_are_no_events() -> None:
    """The time to wait is taken, and a heartbeat is a comment."""
    [found] = parsed((BEGINNING + HEARTBEAT).decode())
    assert found == {"events": [], "retries": [RETRY_MS], "comments": ["alive"], "errors": []}


class Stream:
    """One stream of a server, and what came so far."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._reader = reader
        self.writer = writer
        self.head = ""
        self.text = ""

    async def begin(self, path: str, host: str, had: str) -> None:
        """Ask, and take the head of the answer."""
        named = f"Last-Event-ID: {had}\r\n" if had else ""
        self.writer.write(f"GET {path} HTTP/1.1\r\nHost: {host}\r\n{named}\r\n".encode())
        self.head = (await self._reader.readuntil(b"\r\n\r\n")).decode().lower()

    async def until(self, count: int, sign: str = "\ndata: ") -> None:
        """Read until a sign came so often (RFC 9112 §7.1: chunks)."""
        while self.text.count(sign) < count or not self.text.endswith("\n\n"):
            if not await self._chunk():
                return

    async def to_the_end(self) -> None:
        """Read until the server ends it."""
        while await self._chunk():
            pass

    async def _chunk(self) -> bool:
        async with asyncio.timeout(10):
            size = int(await self._reader.readline(), 16)
            self.text += (await self._reader.readexactly(size + 2))[:-2].decode()
        return size > 0


@asynccontextmanager
async def stream(server: Running, path: str, *, had: str = "") -> AsyncIterator[Stream]:
    """Open a stream of a server."""
    host = server.address.removeprefix("http://")
    found = Stream(*await asyncio.open_connection(*host.split(":")))
    await found.begin(path, host, had)
    try:
        yield found
    finally:
        found.writer.close()
        with suppress(ConnectionError):
            await found.writer.wait_closed()


def count(server: Running, fact: Any) -> None:
    """Let a fact be counted and shown."""
    change = Change()
    server.live.books.add(fact, change)
    server.live.show(change, server.live.books.snapshot())


FRAMES, ROWS = "/v1/heats/heat/heat/frame.events", "/v1/heats/heat/heat/rows.events"


async def test_streams_tell_every_state_and_resume(tmp_path: Path) -> None:
    """A stream begins with the newest state and tells each change under a new id; whoever comes back with the newest id
    is told nothing, with an older one the newest state alone. Source: WHATWG HTML 9.2 (Last-Event-ID)."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        async with stream(server, FRAMES) as frames, stream(server, ROWS) as rows:
            assert "content-type: text/event-stream" in frames.head
            assert "cache-control: no-store" in frames.head
            assert "x-accel-buffering: no" in frames.head
            for n in range(1, 4):
                await frames.until(n)
                await rows.until(n)
                count(server, Pad("starter").start() if n == 1 else Pad(f"lane-1-{n}", 1).reps(n * 1000))
            newest = handed_out(server.live.fan_out.newest("heat", "heat").channel.frame)
            await frames.until(4)
            await rows.until(4)
        told, of_rows = parsed(frames.text, rows.text)
        assert {each["event"] for each in told["events"]} == {"frame"}
        assert json.loads(told["events"][-1]["data"]) == newest
        assert json.loads(of_rows["events"][-1]["data"]) == flat_rows(newest)
        ids = [each["id"] for each in told["events"]]
        assert len(set(ids)) == len(ids) == 4
        async with stream(server, FRAMES, had=ids[-1]) as same, stream(server, FRAMES, had=ids[0]) as older:
            await older.until(1)
            count(server, Pad("lane-1-a", 1).reps(9000))
            await same.until(1)
        for back, first in ((same, 9), (older, 3)):
            [found] = parsed(back.text)
            reached = json.loads(found["events"][0]["data"])["lanes"]["1"]["reached_ms"]
            assert reached == (9000 if first == 9 else 3000)


async def test_a_quiet_stream_says_that_it_is_alive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a change comments come; when the server stops, the stream ends at once and as it should."""
    monkeypatch.setattr(event_answer, "HEARTBEAT_S", 0.02)
    settings = Settings(data=tmp_path / "data", port=0)
    async with running(competition(), settings) as server, stream(server, ROWS) as quiet:
        await quiet.until(3, ": alive")
        began = asyncio.get_running_loop().time()
        server.stop()
        await quiet.to_the_end()
        await server.finished()
        assert asyncio.get_running_loop().time() - began < 2
    [found] = parsed(quiet.text)
    assert len(found["events"]) == 1
    assert found["comments"][:3] == ["alive"] * 3


async def test_streams_are_bounded_and_go_with_their_clients(tmp_path: Path) -> None:
    """An address has as many streams as it may watch, the next is told to try again later; a client that leaves makes
    room, and nothing of it stays."""
    settings = Settings(data=tmp_path / "data", port=0, address_limit=2)
    async with running(competition(), settings) as server:
        async with stream(server, ROWS) as one, stream(server, ROWS) as two:
            await one.until(1)
            await two.until(1)
            async with stream(server, ROWS) as three:
                assert three.head.startswith("http/1.1 503")
                assert "retry-after: " in three.head
        async with asyncio.timeout(5):
            while True:
                async with stream(server, ROWS) as later:
                    if later.head.startswith("http/1.1 200"):
                        break


class _States:
    """An outlet whose state is a number that the test sets."""

    def __init__(self) -> None:
        self.listeners: set[Any] = set()
        self.number = 0

    def newest(self, _form: str) -> Handed:
        """Give the state."""
        return Handed(str(self.number), b"event %d\n" % self.number)

    def become(self, number: int) -> None:
        """Change."""
        self.number = number
        for listener in self.listeners:
            listener()


async def test_a_client_that_does_not_read_gets_the_newest() -> None:
    """States pile up for nobody: while a client does not read, a thousand changes leave it one event, the newest."""
    states, leaves, may_write = _States(), asyncio.Event(), asyncio.Event()
    sent: list[bytes] = []

    async def receive() -> Data:
        await leaves.wait()
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        sent.append(message.get("body", b""))
        if message["type"] == "http.response.body":
            await may_write.wait()

    answer: Any = event_answer.EventAnswer(SimpleNamespace(closing=False), states, "frame.events", had="")  # type: ignore[arg-type]
    going = asyncio.create_task(answer({"type": "http", "method": "GET", "headers": []}, receive, send))
    for number in range(1, 1001):
        states.become(number)
        await asyncio.sleep(0)
    may_write.set()
    for _ in range(10):
        await asyncio.sleep(0)
    leaves.set()
    await going
    assert sent == [b"", BEGINNING, b"event 1000\n", b""]
    assert states.listeners == set()
