"""The server on a real port: starting, stopping, many watchers, and one that never reads."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import time
from asyncio import BaseTransport
from collections.abc import AsyncIterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import orjson
import pytest
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidStatus

from core.samples import HEAT, Pad, competition
from shell.stage import settled
from tallywire.core.errors import JournalFailed, TallywireError
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import CLOCK
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.port import Draft, Journal, Line
from tallywire.web import http_protocol, uvicorn_server
from tallywire.web.door import Door
from tallywire.web.serving import Running, running, serve
from tallywire.web.settings import Settings
from tallywire.web.transport import SEND_BUFFER_BYTES, SocketProtocol
from tallywire.wire.merge_patch import apply
from wire.reader import whole
from wire.talk import facts, text

pytestmark = pytest.mark.slow
WATCH = text(type="watch", view="heat")
SNAPSHOT_MOST = 8 * 1024
"""No snapshot of the sample competition is longer."""


@pytest.fixture(name="protocols")
def _protocols(monkeypatch: pytest.MonkeyPatch) -> list[SocketProtocol]:
    """The server's ends of the websockets that are opened from now on."""
    made: list[SocketProtocol] = []
    connection_made = SocketProtocol.connection_made

    def noted(self: SocketProtocol, transport: BaseTransport) -> None:
        connection_made(self, transport)
        made.append(self)

    monkeypatch.setattr(SocketProtocol, "connection_made", noted)
    return made


def settings(tmp_path: Path, **fields: Any) -> Settings:
    """A server on any free port."""
    return Settings(data=tmp_path / "data", port=0, **fields)


@asynccontextmanager
async def wire(server: Running, *messages: str) -> AsyncIterator[ClientConnection]:
    """Open the wire with a websocket client and say these messages."""
    async with connect(f"{server.address.replace('http', 'ws')}/wire", compression=None) as socket:
        for message in messages:
            await socket.send(message)
        yield socket


def table_hello(server: Running) -> str:
    """The table's hello with its real key."""
    return text(type="hello", role="table", sender="table-a", key=server.live.keys.table)


async def heard(socket: ClientConnection, kind: str) -> dict[str, Any]:
    """Receive until a message of this type comes."""
    while True:
        message: dict[str, Any] = orjson.loads(await socket.recv())
        if message["type"] == kind:
            return message


class Page:
    """A watcher that follows the frames until a lane has so many reps."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket = socket
        self.frame: dict[str, Any] = {}
        self.number = 0
        self.messages = 0

    async def until(self, lane: str, scored_reps: int) -> None:
        """Receive until the lane shows the count."""
        while whole(self.frame).get("lanes", {}).get(lane, {}).get("scored_reps") != scored_reps:
            self.take(orjson.loads(await self._socket.recv()))

    def take(self, message: dict[str, Any]) -> None:
        """Follow one message."""
        self.messages += 1
        if message["type"] == "snapshot":
            self.frame, self.number = message["frame"], message["number"]
        else:
            assert (message["type"], message["number"]) == ("patch", self.number + 1)
            self.frame, self.number = apply(self.frame, message["patch"]), message["number"]


def deaf_socket(server: Running) -> socket.socket:
    """A client that asks to watch and never reads a byte; its kernel takes as little as it can."""
    host, port = server.address.removeprefix("http://").split(":")
    deaf = socket.socket()
    deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    deaf.connect((host, int(port)))
    handshake = (
        f"GET /wire HTTP/1.1\r\nHost: {host}:{port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
    )
    deaf.sendall(handshake.encode())
    return deaf


def masked_text(payload: bytes) -> bytes:
    """A client's text frame, masked with zeros (RFC 6455 §5.3)."""
    assert len(payload) < 126
    return bytes((0x81, 0x80 | len(payload), 0, 0, 0, 0)) + payload


async def test_facts_reach_everyone_and_survive_a_restart(tmp_path: Path) -> None:
    """Facts sent to one run of the server are in its journal, on every page, and there again in the next run."""
    async with (
        running(competition(), settings(tmp_path)) as server,
        wire(server, WATCH) as viewer,
        wire(server, table_hello(server)) as table,
    ):
        pad = Pad("table-a", 1)
        await table.send(facts(pad.start(), pad.correct(1000, 7)))
        assert (await heard(table, "acknowledged"))["watermark"] == 2
        await Page(viewer).until("1", 7)
    async with running(competition(), settings(tmp_path)) as server:
        assert server.live.lines == 2
        async with wire(server, table_hello(server), WATCH) as table:
            assert (await heard(table, "welcome"))["watermark"] == 2
            assert whole((await heard(table, "snapshot"))["frame"])["lanes"]["1"]["scored_reps"] == 7


async def test_a_server_goes_on_by_its_clock_when_the_machines_was_set(tmp_path: Path) -> None:
    """Started again an hour ahead of what it kept, it shows the heat's own time, as if the clock had not been set."""
    settings = Settings(data=tmp_path / "data", port=0)
    async with running(competition(), settings) as server:
        draft = Draft(sender="x-1", sequence=1, body=b"{}", refusal=b"{}")
        await server.live.journal.append([draft], received_unix_ms=server.live.clock.unix_ms() - 3_600_000)
    kept = orjson.loads((tmp_path / "data" / CLOCK).read_bytes())
    kept["apart_ns"] -= 3_600 * 10**9
    (tmp_path / "data" / CLOCK).write_bytes(orjson.dumps(kept))
    async with running(competition(), settings) as server:
        behind_ms = SystemClock().unix_ms() - server.live.clock.unix_ms()
        assert abs(behind_ms - 3_600_000) < 10_000


async def test_stopping_tells_the_clients(tmp_path: Path) -> None:
    """A client that is connected when the server stops is closed with 1012: come back soon."""
    async with running(competition(), settings(tmp_path)) as server:
        async with wire(server, WATCH) as viewer:
            await viewer.recv()
            server.stop()
            with pytest.raises(ConnectionClosed) as closed:
                await viewer.recv()
        await server.finished()
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1012


async def test_a_client_that_never_reads_harms_nobody(tmp_path: Path, protocols: list[SocketProtocol]) -> None:
    """Two hundred watchers get every change in order while one never reads: for that one no more than a bound waits."""
    async with running(competition(), settings(tmp_path)) as server, AsyncExitStack() as stack:
        deaf = deaf_socket(server)
        stack.callback(deaf.close)
        await settled(lambda: bool(protocols) and protocols[0].handshake_complete)
        # It asks for the whole frame again and again, until what it does not read fills every buffer on the way.
        deaf.sendall(masked_text(WATCH.encode()) * 300)
        pages = [Page(await stack.enter_async_context(wire(server, WATCH))) for _ in range(200)]
        table = await stack.enter_async_context(wire(server, table_hello(server)))
        assert not protocols[0].writable.is_set()
        full = protocols[0].transport.get_write_buffer_size()
        following = [asyncio.create_task(page.until("1", 22)) for page in pages]
        pad = Pad("table-a", 1)
        for n in range(1, 23):
            await table.send(facts(pad.correct(n, n)))
            await heard(table, "acknowledged")
        await asyncio.gather(*following)
        assert protocols[0].transport.get_write_buffer_size() == full < 64 * 1024 + SNAPSHOT_MOST
    assert len({page.number for page in pages}) == 1


async def test_a_client_that_never_reads_does_not_hold_up_the_stop(
    tmp_path: Path, protocols: list[SocketProtocol]
) -> None:
    """Stopping takes a second or two though what waits for one client can never be sent."""
    async with running(competition(), settings(tmp_path)) as server:
        deaf = deaf_socket(server)
        await settled(lambda: bool(protocols) and protocols[0].handshake_complete)
        protocols[0].transport.write(b"\x00" * 8 * SEND_BUFFER_BYTES)
        assert protocols[0].transport.get_write_buffer_size() > 0
        async with asyncio.timeout(2.8):
            server.stop()
            await server.finished()
    deaf.close()


async def test_a_client_that_answers_no_ping_is_dropped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Silence after a ping ends a connection; one that answers, beside it, stays. Source: RFC 6455 §5.5.2."""
    monkeypatch.setattr(uvicorn_server, "PING_S", 0.2)
    async with running(competition(), settings(tmp_path)) as server, wire(server) as alive:
        silent = deaf_socket(server)
        silent.setblocking(False)
        async with asyncio.timeout(10):
            received = b""
            while piece := await asyncio.get_running_loop().sock_recv(silent, 4096):
                received += piece
        silent.close()
        await alive.send(text(type="ping", t1=1))
        assert (await heard(alive, "pong"))["t1"] == 1
    assert received.startswith(b"HTTP/1.1 101")
    assert b"\x89" in received.partition(b"\r\n\r\n")[2]


async def test_too_long_a_message_closes_that_connection(tmp_path: Path) -> None:
    """Beyond 64 KiB the connection is closed with 1009 before the message is taken in."""
    async with running(competition(), settings(tmp_path)) as server, wire(server) as socket:
        await socket.send("x" * (64 * 1024 + 1))
        with pytest.raises(ConnectionClosed) as closed:
            await socket.recv()
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1009


async def test_a_page_from_elsewhere_is_refused(tmp_path: Path) -> None:
    """The refusal comes as 403 instead of a handshake."""
    async with running(competition(), settings(tmp_path)) as server:
        address = f"{server.address.replace('http', 'ws')}/wire"
        with pytest.raises(InvalidStatus) as refused:
            async with connect(address, origin="https://elsewhere.example"):  # type: ignore[arg-type]
                pass
    assert refused.value.response.status_code == 403


class FailingJournal(MemoryJournal):
    """A journal that fails at the second write."""

    def __init__(self) -> None:
        super().__init__()
        self._writes = 0

    async def append(self, drafts: Sequence[Draft], *, received_unix_ms: int) -> Sequence[Line]:
        """Write once, then never again."""
        self._writes += 1
        if self._writes > 1:
            raise JournalFailed("the disk is gone")
        return await super().append(drafts, received_unix_ms=received_unix_ms)


async def test_a_failed_journal_stops_the_server(tmp_path: Path) -> None:
    """What could not be kept is not acknowledged, clients are closed, and the error comes out of `finished`."""
    journal: Journal = FailingJournal()
    table_pad = Pad("table-a", 1)
    with pytest.raises(JournalFailed, match="the disk is gone"):
        async with running(competition(), settings(tmp_path), open_journal=lambda _path: journal) as server:
            async with wire(server, table_hello(server)) as table:
                await table.send(facts(table_pad.start()))
                assert (await heard(table, "acknowledged"))["watermark"] == 1
                await table.send(facts(table_pad.correct(1, 1)))
                with pytest.raises(ConnectionClosed):
                    await heard(table, "acknowledged")
            await server.finished()


async def test_a_port_in_use_is_named(tmp_path: Path) -> None:
    """A second server on the same port does not start, and says what to do."""
    async with running(competition(), settings(tmp_path)) as server:
        port = int(server.address.rsplit(":", 1)[1])
        with pytest.raises(TallywireError, match=f"cannot listen on 127.0.0.1 port {port} .*: choose another"):
            async with running(competition(), Settings(data=tmp_path / "other", port=port)):
                pass


async def test_a_start_that_fails_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the server cannot begin to listen, its error comes out at once, and the journal is free again."""

    def broken(_door: Door) -> None:
        raise OSError("no listening here")

    with monkeypatch.context() as patch:
        patch.setattr(Door, "open", broken)
        with pytest.raises(OSError, match="no listening here"):
            async with running(competition(), settings(tmp_path)):
                pass
    async with running(competition(), settings(tmp_path)) as server:
        assert server.live.lines == 0


async def test_a_journal_in_use_is_named(tmp_path: Path) -> None:
    """A second server on the same folder does not start."""
    async with running(competition(), settings(tmp_path)):
        with pytest.raises(JournalFailed, match="in use"):
            async with running(competition(), settings(tmp_path)):
                pass


async def test_a_signal_stops_it_gracefully(tmp_path: Path) -> None:
    """SIGTERM ends `serve` like a stop: clients are told, the journal is closed, and no error comes out."""
    listening: asyncio.Future[Running] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(serve(competition(), settings(tmp_path), on_listening=listening.set_result))
    server = await listening
    async with wire(server, WATCH) as viewer:
        await viewer.recv()
        os.kill(os.getpid(), signal.SIGTERM)
        with pytest.raises(ConnectionClosed):
            await viewer.recv()
    await task
    async with running(competition(), settings(tmp_path)) as again:
        assert again.live.books.floor == HEAT


async def test_a_server_with_nothing_to_do_rests(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It looks at its date once a second, not ten times; answers have the right one all the same (RFC 9110 §6.6.1), and
    a stop waits for no look."""
    looks = list[float]()
    on_tick = uvicorn_server.UvicornServer.on_tick

    async def noted(self: uvicorn_server.UvicornServer, counter: int) -> bool:
        looks.append(time.monotonic())
        return await on_tick(self, counter)

    monkeypatch.setattr(uvicorn_server.UvicornServer, "on_tick", noted)
    async with running(competition(), settings(tmp_path)) as server:
        await asyncio.sleep(2.5)
        assert 2 <= len(looks) <= 4
        said = await asyncio.to_thread(lambda: urlopen(f"{server.address}/health").headers["date"])
        assert abs(parsedate_to_datetime(said).timestamp() - time.time()) < 2.5
        asked = time.monotonic()
        server.stop()
        await server.finished()
    assert looks[-1] - asked < 0.1


@pytest.mark.parametrize("said", [b"", b"GET /health HTTP/1.1\r\nHost: x\r\n"], ids=["silent", "never-done"])
async def test_a_connection_without_a_request_is_cut(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: bytes
) -> None:
    """Who connects and does not finish a request loses the connection; a page and a wire that are used do not."""
    monkeypatch.setattr(http_protocol, "REQUEST_S", 0.3)
    async with running(competition(), settings(tmp_path)) as server, wire(server) as used:
        port = int(server.address.rsplit(":", 1)[1])
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(said)
        with suppress(ConnectionResetError):
            assert await asyncio.wait_for(reader.read(), 5) == b""
        writer.close()
        await used.send(text(type="ping", t1=1))
        assert orjson.loads(await used.recv())["type"] == "pong"
