"""The bounds of a real server, on the loopback range; each is switched off once, and the check must notice."""

from __future__ import annotations

import asyncio
import select
import socket
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AsyncExitStack, ExitStack, asynccontextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

import orjson
import pytest
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed

from core.samples import Pad, competition
from shell.stage import settled
from tallywire.web import client, http_protocol, turnstile
from tallywire.web import door as door_module
from tallywire.web.admission import VISIT, Admission
from tallywire.web.bounds import Bounds
from tallywire.web.door import Door
from tallywire.web.http_routes import HttpRoutes
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from tallywire.wire import links
from web.attacks import ADDRESS, Streams, dialled, opened
from wire.talk import facts, text

pytestmark = pytest.mark.slow
SMALL = Bounds(
    waiting=6, newcomers=6, guests=8, crew=4, address_waiting=3, address_newcomers=3, address_guests=4, link=3
)
OFF = 10_000
PATIENCE_S = 20
Check = Callable[[Running, int], Awaitable[None]]


@asynccontextmanager
async def served(folder: Path, monkeypatch: pytest.MonkeyPatch, bounds: Bounds = SMALL) -> AsyncIterator[Running]:
    """Run a server with these bounds."""
    monkeypatch.setattr(Settings, "bounds", bounds)
    async with running(competition(), Settings(data=folder / "data", port=0)) as server:
        yield server


def port_of(server: Running) -> int:
    """The port it listens on."""
    return int(server.address.rsplit(":", 1)[1])


@asynccontextmanager
async def wire(server: Running, *messages: str, address: str = "127.0.0.1") -> AsyncIterator[ClientConnection]:
    """Open the wire from an address and say these messages."""
    where = f"ws://127.0.0.1:{port_of(server)}/wire"
    async with connect(where, compression=None, local_addr=(address, 0)) as socket:
        for message in messages:
            await socket.send(message)
        yield socket


def pad_hello(server: Running, name: str, lane: int = 1) -> str:
    """A pad's hello with its real key."""
    return text(type="hello", role="lane", lane=lane, key=server.live.keys.lane(lane), sender=name)


async def heard(socket: ClientConnection, kind: str) -> dict[str, Any]:
    """Receive until a message of this type comes."""
    async with asyncio.timeout(PATIENCE_S):
        while True:
            message: dict[str, Any] = orjson.loads(await socket.recv())
            if message["type"] == kind:
                return message


async def ended(socket: ClientConnection) -> tuple[int, list[dict[str, Any]]]:
    """Receive until the connection is closed, and give the code and what was said."""
    said: list[dict[str, Any]] = []
    async with asyncio.timeout(PATIENCE_S):
        try:
            while True:
                said.append(orjson.loads(await socket.recv()))
        except ConnectionClosed as closed:
            return closed.rcvd.code if closed.rcvd else 1006, said


async def cut_within(streams: Streams, seconds: float = PATIENCE_S) -> bytes:
    """Read until the server ends the connection. Raises TimeoutError when it does not."""
    reader, writer = streams
    received = b""
    try:
        async with asyncio.timeout(seconds):
            with suppress(ConnectionError):
                while piece := await reader.read(65_536):
                    received += piece
    finally:
        writer.close()
    return received


async def strangers(server: Running, count: int, *addresses: str) -> list[Streams]:
    """Connect so often, from these addresses in turn, and give the connections that came about."""
    made: list[Streams] = []
    for n in range(count):
        # Reset so soon that there was none.
        with suppress(ConnectionError):
            made.append(await dialled(port_of(server), addresses[n % len(addresses)]))
    return made


async def _bare(server: Running, most: int) -> int:
    """Connect forty times and say nothing; give how many are left once no more than `most` are, and others served."""
    bare = await strangers(server, 40, ADDRESS)
    await settled(lambda: sum(not reader.at_eof() and not reader.exception() for reader, _ in bare) <= most)
    left = await _left_of(bare, server)
    for _, writer in bare:
        writer.close()
    return left


async def _left_of(several: list[Streams], server: Running) -> int:
    """Give how many of these connections the server has kept once a request of another address was answered."""
    reader, writer = await dialled(port_of(server), "127.0.0.9")
    writer.write(f"GET /health HTTP/1.1\r\nHost: 127.0.0.1:{port_of(server)}\r\nConnection: close\r\n\r\n".encode())
    assert b" 200 " in await asyncio.wait_for(reader.read(), PATIENCE_S)
    writer.close()
    await asyncio.sleep(0)
    return sum(not reader.at_eof() and reader.exception() is None for reader, _ in several)


async def test_bare_connections_are_few(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of forty connections of one address that say nothing as many stay as may be new; without the bound all do."""
    most = SMALL.address_waiting + SMALL.address_newcomers
    async with served(tmp_path, monkeypatch) as server:
        assert await _bare(server, most) <= most
    off = replace(SMALL, waiting=OFF, newcomers=OFF, address_waiting=OFF, address_newcomers=OFF)
    async with served(tmp_path, monkeypatch, off) as server:
        assert await _bare(server, 40) == 40


async def test_one_that_is_turned_away_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its connection is reset, not closed in good order (socket(7), SO_LINGER), so the kernel keeps nothing for it."""
    async with served(tmp_path, monkeypatch, replace(SMALL, address_waiting=0)) as server:
        with pytest.raises(ConnectionResetError):
            reader, _ = await asyncio.open_connection("127.0.0.1", port_of(server))
            await asyncio.wait_for(reader.read(), PATIENCE_S)


async def test_a_pad_comes_in_before_strangers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strangers hold all that strangers can have; a pad comes in, shows its key and counts.

    None of them waits at the door: they are of more addresses than there are places, which turns everybody away.
    """
    prompt = replace(SMALL, joins_at_once=OFF)
    async with served(tmp_path, monkeypatch, prompt) as server, AsyncExitStack() as stack:
        for n in range(5):
            for _ in range(2):
                await stack.enter_async_context(
                    wire(server, text(type="watch", view="heat"), address=f"127.0.0.{20 + n}")
                )
        for _, writer in await strangers(server, 20, *(f"127.0.0.{40 + n}" for n in range(7))):
            stack.callback(writer.close)
        pad = await stack.enter_async_context(wire(server, pad_hello(server, "lane-1-a"), address="127.0.0.7"))
        await pad.send(facts(Pad("lane-1-a", 1).reps(1)))
        assert (await heard(pad, "acknowledged"))["watermark"] == 1


async def _watching(server: Running, address: str, count: int) -> list[int]:
    """Watch so often from an address, and give the close codes of those who were turned away."""
    codes = []
    async with AsyncExitStack() as stack:
        for _ in range(count):
            watcher = await stack.enter_async_context(wire(server, text(type="watch", view="heat"), address=address))
            if orjson.loads(await watcher.recv())["type"] == "error":
                codes.append((await ended(watcher))[0])
    return codes


async def test_watchers_of_one_address_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Four of one address may watch, the others are closed with 1013; without the bound they would not be."""
    async with served(tmp_path, monkeypatch) as server:
        assert await _watching(server, ADDRESS, 6) == [1013, 1013]
        assert await _watching(server, "127.0.0.67", 1) == []
    async with served(tmp_path, monkeypatch, replace(SMALL, address_guests=OFF)) as server:
        assert await _watching(server, ADDRESS, 6) == []


async def _pads_of_a_link(server: Running) -> int:
    """Open five connections of a lane's link one after the other; the newest counts. Gives how many were cut."""
    async with AsyncExitStack() as stack:
        pads = []
        for n in range(5):
            pads.append(await stack.enter_async_context(wire(server, pad_hello(server, f"lane-1-{n}"))))
            await heard(pads[-1], "welcome")
        await pads[-1].send(facts(Pad("lane-1-4", 1).reps(1)))
        await heard(pads[-1], "acknowledged")
        return sum(pad.state.name != "OPEN" for pad in pads)


async def test_connections_of_one_link_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond three connections of a link the oldest is cut, and the newest counts; without the bound none is."""
    async with served(tmp_path, monkeypatch) as server:
        assert await _pads_of_a_link(server) == 2
    async with served(tmp_path, monkeypatch, replace(SMALL, link=OFF)) as server:
        assert await _pads_of_a_link(server) == 0


async def _idle(server: Running) -> tuple[int, list[dict[str, Any]]]:
    async with wire(server) as socket:
        return await ended(socket)


async def test_a_websocket_that_asks_for_nothing_is_closed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An open wire without a view or a key is told and closed with 1008; without the bound it stays."""
    monkeypatch.setattr(client, "IDLE_S", 0.3)
    async with served(tmp_path, monkeypatch) as server, wire(server, text(type="watch", view="heat")) as watcher:
        code, said = await _idle(server)
        assert (code, said[-1]["code"]) == (1008, "idle")
        await watcher.send(text(type="ping", t1=1))
        await heard(watcher, "pong")
    monkeypatch.setattr(client, "IDLE_S", OFF)
    async with served(tmp_path, monkeypatch) as server:
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(_idle(server), 1)


async def test_pings_do_not_make_a_websocket_useful(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who sends messages but neither watches nor shows a key is closed all the same, also after a view is given up."""
    monkeypatch.setattr(client, "IDLE_S", 0.5)
    async with served(tmp_path, monkeypatch) as server:
        begun = text(type="watch", view="heat"), text(type="unwatch", view="heat")
        async with wire(server, *begun) as socket:
            said = asyncio.ensure_future(ended(socket))
            while not said.done():
                with suppress(ConnectionClosed):
                    await socket.send(text(type="ping", t1=1))
                await asyncio.wait({said}, timeout=0.1)
            assert (await said)[0] == 1008


async def _second_request_slowly(server: Running) -> bytes:
    """Ask once, then begin to ask again and never end."""
    reader, writer = await dialled(port_of(server), "127.0.0.1")
    asked = f"GET /health HTTP/1.1\r\nHost: 127.0.0.1:{port_of(server)}\r\n\r\n".encode()
    writer.write(asked + asked[:-2])
    return await cut_within((reader, writer), 2)


async def test_a_second_request_has_a_deadline_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A connection that was answered once and then sends slowly is cut; without the bound it stays."""
    monkeypatch.setattr(http_protocol, "REQUEST_S", 0.3)
    async with served(tmp_path, monkeypatch) as server:
        assert (await _second_request_slowly(server)).startswith(b"HTTP/1.1 200")
    monkeypatch.setattr(http_protocol, "REQUEST_S", OFF)
    async with served(tmp_path, monkeypatch) as server:
        with pytest.raises(TimeoutError):
            await _second_request_slowly(server)


async def test_who_does_not_read_an_answer_is_cut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer of 32 MB to somebody who never reads is given up; without the bound the connection stays."""

    async def long(_self: HttpRoutes, _request: Request) -> Response:
        return Response(b"x" * 32 * 2**20)

    async def asked(server: Running) -> None:
        _, writer = await dialled(port_of(server), "127.0.0.1")
        writer.transport.pause_reading()  # type: ignore[attr-defined]
        writer.write(f"GET /health HTTP/1.1\r\nHost: 127.0.0.1:{port_of(server)}\r\n\r\n".encode())
        try:
            await settled(lambda: any(each.cycle is not None for each in made))
            await asyncio.wait_for(lost.wait(), 2)
        finally:
            writer.transport.abort()
            await asyncio.sleep(0)

    made: list[http_protocol.BoundedHttp] = []
    lost = asyncio.Event()
    begin, end = http_protocol.BoundedHttp.connection_made, http_protocol.BoundedHttp.connection_lost

    def noted(self: http_protocol.BoundedHttp, transport: Any) -> None:
        made.append(self)
        begin(self, transport)

    def ended_too(self: http_protocol.BoundedHttp, exc: Exception | None) -> None:
        lost.set()
        end(self, exc)

    monkeypatch.setattr(http_protocol.BoundedHttp, "connection_made", noted)
    monkeypatch.setattr(http_protocol.BoundedHttp, "connection_lost", ended_too)
    monkeypatch.setattr(HttpRoutes, "health", long)
    monkeypatch.setattr(http_protocol, "STALL_S", 0.3)
    async with served(tmp_path, monkeypatch) as server:
        await asked(server)
    monkeypatch.setattr(http_protocol, "STALL_S", OFF)
    made.clear()
    lost.clear()
    async with served(tmp_path, monkeypatch) as server:
        with pytest.raises(TimeoutError):
            await asked(server)


async def _pings(server: Running, *hellos: str) -> set[int]:
    """Send 150 pings on each of three connections, and give the codes of those that were closed."""
    async with AsyncExitStack() as stack:
        sockets = [await stack.enter_async_context(wire(server, hello)) for hello in hellos]
        for socket in sockets:
            with suppress(ConnectionClosed):
                for _ in range(150):
                    await socket.send(text(type="ping", t1=1))
        codes = set[int]()
        for socket in sockets:
            with suppress(TimeoutError):
                async with asyncio.timeout(0.5):
                    codes.add((await ended(socket))[0])
        return codes


async def test_messages_of_one_address_are_bounded_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three watchers, each within its own bound, are too fast together; without the common bound they are not."""
    watch = [text(type="watch", view="heat")] * 3
    monkeypatch.setattr(Bounds, "address_messages_a_second", 100)
    async with served(tmp_path, monkeypatch) as server:
        assert 1008 in await _pings(server, *watch)
    monkeypatch.setattr(Bounds, "address_messages_a_second", OFF)
    async with served(tmp_path, monkeypatch) as server:
        assert await _pings(server, *watch) == set()


async def test_messages_of_one_link_are_bounded_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three pads with one link likewise."""
    monkeypatch.setattr(links, "MESSAGES_A_SECOND", 100)
    async with served(tmp_path, monkeypatch) as server:
        assert 1008 in await _pings(server, *(pad_hello(server, f"lane-1-{n}") for n in range(3)))
    monkeypatch.setattr(links, "MESSAGES_A_SECOND", OFF)
    async with served(tmp_path, monkeypatch) as server:
        assert await _pings(server, *(pad_hello(server, f"lane-1-{n}") for n in range(3))) == set()


async def _hundred_facts(server: Running) -> None:
    """Send a hundred facts in ten messages, and wait until all are acknowledged."""
    pad = Pad("lane-1-a", 1)
    async with wire(server, pad_hello(server, "lane-1-a")) as socket:
        for at_ms in range(10):
            await socket.send(facts(*(pad.reps(at_ms) for _ in range(10))))
        while (await heard(socket, "acknowledged"))["watermark"] < 100:
            pass


async def test_facts_of_a_link_are_taken_at_a_rate(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond what may come at once a link's facts wait, and none is lost: a hundred at ten and 200 a second.

    Without the bound none waits.
    """
    monkeypatch.setattr(links, "FACTS_AT_ONCE", 10)
    monkeypatch.setattr(links, "FACTS_A_SECOND", 200)
    async with served(tmp_path, monkeypatch) as server:
        began = time.monotonic()
        await _hundred_facts(server)
        assert time.monotonic() - began >= (100 - 10 - 10) / 200
    waits: list[float] = []
    behind = client.Client._behind_s

    def noted(self: client.Client) -> float:
        waits.append(behind(self))
        return waits[-1]

    monkeypatch.setattr(client.Client, "_behind_s", noted)
    monkeypatch.setattr(links, "FACTS_AT_ONCE", OFF)
    async with served(tmp_path / "off", monkeypatch) as server:
        await _hundred_facts(server)
        assert len(waits) >= 10
        assert max(waits) == 0


async def _waits_of_requests() -> list[float]:
    """Ask thirty times from one address and ten times from another, and give for how long requests had to wait."""
    waits: list[float] = []

    async def noted(seconds: float) -> None:
        waits.append(seconds)

    async def app(_scope: Scope, _receive: Receive, _send: Send) -> None:
        pass

    admission, gate = Admission(SMALL), turnstile.Turnstile(app)
    one, other = admission.walk_in(ADDRESS), admission.walk_in("127.0.0.67")
    with patch.object(asyncio, "sleep", noted):
        for visit in (*[one] * 30, *[other] * 10):
            await gate({"type": "http", "state": {VISIT: visit}}, None, None)  # type: ignore[arg-type]
    return waits


async def test_requests_of_one_address_wait_their_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond what may be asked at once each request of an address waits longer, and those of another do not.

    Without the bound none waits.
    """
    monkeypatch.setattr(Bounds, "address_requests_a_second", 10)
    waits = await _waits_of_requests()
    assert len(waits) == 10
    assert waits == sorted(waits)
    assert 0.5 < waits[-1] <= 1
    monkeypatch.setattr(Bounds, "address_requests_a_second", OFF)
    assert await _waits_of_requests() == []


def _queued(backlog: int) -> int:
    """Listen with a backlog, accept nobody, and give how many of thirty connections the kernel takes all the same."""
    with ExitStack() as stack:
        listener = stack.enter_context(socket.create_server(("127.0.0.1", 0), backlog=1))
        door = Door(listener, Admission(SMALL), make_protocol=lambda _visit: asyncio.Protocol(), tls=None)
        with patch.object(door_module, "BACKLOG", backlog), patch.object(door, "_watch"):
            door.open()
        callers = [stack.enter_context(socket.socket()) for _ in range(30)]
        for caller in callers:
            caller.setblocking(False)
            caller.connect_ex(listener.getsockname())
        _, writable, _ = select.select([], callers, [], 0.2)
        return len(writable)


async def test_the_kernel_keeps_few_connections_waiting() -> None:
    """With a backlog of eight it takes nine (listen(2): one more than the backlog on Linux); with a large one all."""
    assert _queued(8) == 9
    assert _queued(OFF) == 30
    assert door_module.BACKLOG <= 128


async def test_connections_are_taken_a_few_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """One turn of the loop takes as many as are allowed of those that wait; without the bound all."""
    for allowed, taken in ((5, 5), (OFF, 20)):
        monkeypatch.setattr(door_module, "ACCEPTS_A_TURN", allowed)
        with ExitStack() as stack:
            listener = stack.enter_context(socket.create_server(("127.0.0.1", 0), backlog=64))
            listener.setblocking(False)
            door = Door(listener, Admission(Bounds()), make_protocol=lambda _visit: asyncio.Protocol(), tls=None)
            for _ in range(20):
                stack.enter_context(socket.create_connection(listener.getsockname()))
            arrived: list[str] = []
            monkeypatch.setattr(door, "_arrived", lambda one, host, into=arrived: (one.close(), into.append(host)))
            door._accept()
            assert len(arrived) == taken


async def test_one_that_sends_ten_megabytes_is_closed_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A message said to be 10 MB long ends the connection at its head, RFC 6455 code 1009, before its body comes.

    Without the bound the server waits for the body.
    """

    async def head_alone(server: Running, patience_s: float) -> bytes:
        reader, writer = await opened(port_of(server), ADDRESS)
        writer.write(b"\x81\xff" + (10 * 2**20).to_bytes(8, "big") + bytes(4))
        return await cut_within((reader, writer), patience_s)

    async with served(tmp_path, monkeypatch) as server:
        assert (await head_alone(server, PATIENCE_S))[2:4] == (1009).to_bytes(2, "big")
    monkeypatch.setattr("tallywire.web.uvicorn_server.MESSAGE_LIMIT", 2**30)
    async with served(tmp_path, monkeypatch) as server:
        with pytest.raises(TimeoutError):
            await head_alone(server, 1)
