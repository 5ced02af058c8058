"""Pushes: real receivers over HTTP and websocket, retries, and what is never sent."""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import orjson
import pytest
from websockets.asyncio.server import ServerConnection, serve

from core.samples import Pad, competition
from tallywire.core.errors import TallywireError
from tallywire.shell import senders_out
from tallywire.shell.books import Change
from tallywire.shell.outlets import Outlets
from tallywire.shell.pusher import FIRST_S, KEY_LEAST, MOST_S, PAUSE_S, Pusher, push_key, wait_s
from tallywire.shell.senders_out import HttpOut, NotTaken, SocketOut
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from tallywire.wire.http_signature import content_digest
from tallywire.wire.push import read_push

KEY = b"k" * 40
Got = list[tuple[str, dict[str, str], bytes]]


@contextmanager
def receiver(*answers: int, fields: tuple[tuple[str, str], ...] = ()) -> Iterator[tuple[str, Got]]:
    """Take POSTs on loopback, and answer with these statuses, then with 204."""
    got: Got = []
    statuses = list(answers)

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            """Keep it."""
            body = self.rfile.read(int(self.headers["Content-Length"]))
            got.append((self.path, {name.lower(): value for name, value in self.headers.items()}, body))
            self.send_response(statuses.pop(0) if statuses else 204)
            for name, value in fields:
                self.send_header(name, value)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_args: Any) -> None:
            """Say nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        server.daemon_threads = True
        thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/in?a=1", got
        finally:
            server.shutdown()
            thread.join()


def settings_of(folder: Path, *urls: str) -> Settings:
    """Settings that push the heat's rows to these addresses."""
    pushes = tuple(read_push("heat/heat/rows.json", url) for url in urls)
    return Settings(data=folder / "data", port=0, pushes=pushes)


def count(server: Running, fact: Any) -> None:
    """Let a fact be counted and shown."""
    change = Change()
    server.live.books.add(fact, change)
    server.live.show(change, server.live.books.snapshot())


async def until(what: Any) -> None:
    """Wait until something is so."""
    async with asyncio.timeout(10):
        while not what():  # noqa: ASYNC110
            await asyncio.sleep(0.002)


async def test_a_receiver_has_the_newest_and_every_number(tmp_path: Path) -> None:
    """A receiver is sent the state at once and after a change: the bytes of the outlet, signed, numbered, digested."""
    with receiver() as (url, got):
        async with running(competition(), settings_of(tmp_path, url)) as server:
            await until(lambda: len(got) == 1)
            count(server, Pad("starter").start())
            await until(lambda: len(got) == 2)
        key = (tmp_path / "data" / "push-key").read_bytes().strip()
        assert len(key) >= KEY_LEAST
        assert (tmp_path / "data" / "push-key").stat().st_mode & 0o077 == 0
    for number, (path, fields, body) in enumerate(got, start=1):
        assert path == "/in?a=1"
        assert fields["push-number"] == str(number)
        assert fields["content-digest"] == content_digest(body)
        assert fields["content-type"] == "application/json"
        assert fields["signature"].startswith("tallywire=:")
        assert orjson.loads(body)[0]["heat_status"] == ("waiting" if number == 1 else "running")


async def test_a_failing_receiver_is_tried_again_and_again(tmp_path: Path) -> None:
    """After errors of the receiver the newest state is delivered, once; another receiver has every state meanwhile."""
    with receiver(500, 302, 404) as (bad, late), receiver() as (good, prompt):
        async with running(competition(), settings_of(tmp_path, bad, good)) as server:
            await until(lambda: prompt and late)
            count(server, Pad("starter").start())
            await until(lambda: len(prompt) == 2 and len(late) == 4)
    assert orjson.loads(late[-1][2])[0]["heat_status"] == "running"
    assert [fields["push-number"] for _, fields, _ in late] == ["1", "2", "3", "4"]


async def test_who_is_gone_for_good_is_left_alone(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """410 ends the pushes (RFC 9110 §15.5.11), and the log says so without the path, which may be a secret."""
    with receiver(410) as (url, got):
        async with running(competition(), settings_of(tmp_path, url)) as server:
            await until(lambda: "gone for good" in caplog.text)
            count(server, Pad("starter").start())
            await asyncio.sleep(3 * PAUSE_S)
    assert len(got) == 1
    assert "/in?a=1" not in caplog.text


async def test_a_websocket_gets_every_state_and_comes_back(tmp_path: Path) -> None:
    """Over a websocket each state is a text message; after a break it is opened again, with a signed handshake."""
    got: list[str] = []
    heads: list[Any] = []

    async def take(socket: ServerConnection) -> None:
        assert socket.request is not None
        heads.append(socket.request.headers)
        async for message in socket:
            got.append(str(message))
            if len(got) == 1:
                await socket.close()

    async with serve(take, "127.0.0.1", 0) as target:
        port = target.sockets[0].getsockname()[1]
        async with running(competition(), settings_of(tmp_path, f"ws://127.0.0.1:{port}/feed")) as server:
            await until(lambda: len(got) == 1)
            await asyncio.sleep(0.05)
            count(server, Pad("starter").start())
            await until(lambda: len(got) == 2)
    assert [orjson.loads(each)[0]["heat_status"] for each in got] == ["waiting", "running"]
    assert len(heads) == 2
    assert all(head["Signature"].startswith("tallywire=:") for head in heads)


async def test_a_deaf_receiver_does_not_keep_the_server(tmp_path: Path) -> None:
    """A receiver that accepts and never answers costs neither others nor the stop of the server."""

    async def ignore(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(asyncio.CancelledError):
            await asyncio.sleep(60)
        writer.close()

    target = await asyncio.start_server(ignore, "127.0.0.1", 0)
    port = target.sockets[0].getsockname()[1]
    with receiver() as (good, prompt):
        async with running(competition(), settings_of(tmp_path, f"http://127.0.0.1:{port}/", good)):
            await until(lambda: prompt)
            began = time.monotonic()
        assert time.monotonic() - began < 3
    target.close()


class _Out:
    """A way out that fails as often as told, and keeps what it was given."""

    def __init__(self, *failures: NotTaken) -> None:
        self.failures = list(failures)
        self.taken: list[bytes] = []

    async def send(self, body: bytes) -> None:
        """Take it, or not."""
        if self.failures:
            raise self.failures.pop(0)
        self.taken.append(body)

    def close(self) -> None:
        """Nothing to close."""


@asynccontextmanager
async def _pushed(out: _Out, folder: Path) -> AsyncIterator[list[float]]:
    """Push to a way out, without waiting; gives how long would have been waited."""
    waits: list[float] = []

    async def sleep(seconds: float) -> None:
        waits.append(seconds)
        await asyncio.sleep(0)

    async with running(competition(), Settings(data=folder / "data", port=0)) as server:
        pusher = Pusher(read_push("heat/heat/rows.json", "https://graphics.example/"), out, sleep=sleep)
        task = asyncio.create_task(pusher.run(Outlets(server.live)))
        await until(lambda: out.taken)
        yield waits
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


async def test_it_waits_longer_each_time_and_as_long_as_asked(tmp_path: Path) -> None:
    """Waits double from half a second to half a minute, each less a random part; Retry-After is kept to; success is
    followed by the pause that bounds the rate."""
    failures = [NotTaken("away") for _ in range(9)] + [NotTaken("busy", wait_s=50)]
    out = _Out(*failures)
    async with _pushed(out, tmp_path) as waits:
        await until(lambda: len(waits) == len(failures) + 1)
    for number, waited in enumerate(waits[:9]):
        most = min(FIRST_S * 2**number, MOST_S)
        assert most / 2 <= waited <= most
    assert waits[9:] == [50, PAUSE_S]
    assert [wait_s(n, draw=0) for n in (1, 2, 3, 100)] == [0.5, 1.0, 2.0, 30.0]


async def test_a_push_that_fails_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    """In the words of the system, and where there are none by the name of the failure: an answer that never comes."""
    monkeypatch.setattr(senders_out, "TIMEOUT_S", 0.05)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"127.0.0.1:{silent.getsockname()[1]}/in"
        waiting = SocketOut(read_push("heat/heat/rows.json", f"ws://{address}"), key=KEY, now_s=time.time)
        with pytest.raises(NotTaken, match=r"^TimeoutError$"):
            await waiting.send(b"{}")
    out = HttpOut(read_push("heat/heat/rows.json", f"http://{address}"), key=KEY, now_s=time.time)
    with pytest.raises(NotTaken, match="Connection refused"):
        await out.send(b"{}")
    out.close()


async def test_a_push_under_which_its_connection_is_let_go_is_not_made_again() -> None:
    """The server stops while a receiver thinks about the second push of a connection: it is asked no third time."""
    connections, posts = list[asyncio.StreamWriter](), 0

    async def answer_once(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        nonlocal posts
        connections.append(writer)
        with suppress(asyncio.IncompleteReadError):
            while await reader.readuntil(b"\r\n\r\n"):
                await reader.readexactly(2)
                posts += 1
                if posts == 1:
                    writer.write(b"HTTP/1.1 204 No Content\r\n\r\n")
        writer.close()

    async with await asyncio.start_server(answer_once, "127.0.0.1", 0) as listening:
        port = listening.sockets[0].getsockname()[1]
        out = HttpOut(read_push("heat/heat/rows.json", f"http://127.0.0.1:{port}/in"), key=KEY, now_s=time.time)
        await out.send(b"{}")
        pushing = asyncio.create_task(out.send(b"{}"))
        await until(lambda: posts == 2)
        out.close()
        with pytest.raises(NotTaken):
            await pushing
    assert (len(connections), posts) == (1, 2)


@pytest.mark.parametrize(("fails", "said"), [(0, []), (2, ["was not taken", "are taken again"])])
async def test_the_log_says_once_that_it_fails_and_once_that_it_goes_on(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, fails: int, said: list[str]
) -> None:
    """Of two failures in a row one line, and one when it is taken again; of a push that is taken nothing."""
    async with _pushed(_Out(*(NotTaken("away") for _ in range(fails))), tmp_path) as waits:
        await until(lambda: len(waits) == fails + 1)
    lines = [each.getMessage() for each in caplog.records if each.name.endswith("pusher")]
    assert len(lines) == len(said)
    assert all(words in line for words, line in zip(said, lines, strict=True))


def test_a_key_is_made_once_and_must_be_long(tmp_path: Path) -> None:
    """The key in the data folder is made at the first start and kept; a short one, or none, is refused."""
    made = push_key(tmp_path / "push-key", makes=True)
    assert push_key(tmp_path / "push-key", makes=True) == made
    (tmp_path / "short").write_text("secret")
    for name, expected in (("short", "32 or more"), ("missing", "cannot read")):
        with pytest.raises(TallywireError, match=f"{expected}.*--push-key") as found:
            push_key(tmp_path / name, makes=False)
        assert str(tmp_path / name) in str(found.value)


@pytest.mark.parametrize("outlet", ["heat/table/rows.json", "heat/subjects/frame.json", "nowhere/heat/rows.json"])
async def test_only_what_anybody_may_read_is_pushed(tmp_path: Path, outlet: str) -> None:
    """A view of the crew, or a heat that is not there, is refused before the server listens."""
    settings = replace(settings_of(tmp_path), pushes=(read_push(outlet, "https://graphics.example/"),))
    with pytest.raises(TallywireError, match="--push"):
        async with running(competition(), settings):
            pass


def test_ways_out_close_before_they_began() -> None:
    """A way out that was never used is closed without harm."""
    push = read_push("heat/heat/rows.json", "https://graphics.example/")
    HttpOut(push, key=KEY, now_s=time.time).close()
    SocketOut(push, key=KEY, now_s=time.time).close()
