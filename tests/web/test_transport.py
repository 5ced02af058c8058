"""Everything relied on in uvicorn's websocket protocol, and what the transport does with it."""

from __future__ import annotations

import asyncio
import inspect
import socket
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from uvicorn.server import ServerState
from websockets.frames import Frame, Opcode

from tallywire.web.listening import listening_socket
from tallywire.web.settings import Settings
from tallywire.web.transport import CLOSE_S, SEND_BUFFER_BYTES, TRANSPORT, SocketProtocol, SocketTransport
from tallywire.wire.text_frame import text_frame

HANDSHAKE = (
    b"GET /wire HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
    b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
)
CLOSE_FRAME = b"\x88\x82\x00\x00\x00\x00\x03\xe8"
"""A client's close with code 1000, masked with zeros (RFC 6455 §5.5.1)."""

OVERRIDDEN = {
    "connection_made": ["transport"],
    "connection_lost": ["exc"],
    "pause_writing": [],
    "resume_writing": [],
    "handle_connect": ["event"],
    "handle_close": ["event"],
    "handle_parser_exception": [],
    "keepalive_timeout": [],
    "shutdown": [],
    "send": ["message"],
    "data_received": ["data"],
    "send_receive_event_to_app": [],
}


class Wire(asyncio.Transport):
    """A transport that keeps what is written."""

    def __init__(self) -> None:
        super().__init__()
        self.written: list[bytes] = []
        self.closing = False
        self.aborted = False
        self.socket: socket.socket | None = None

    def get_extra_info(self, name: str, default: Any = None) -> Any:
        """Give the socket, if there is one."""
        return self.socket if name == "socket" else default

    def write(self, data: Any) -> None:
        """Keep it."""
        self.written.append(bytes(data))

    def close(self) -> None:
        """Begin to close."""
        self.closing = True

    def is_closing(self) -> bool:
        """Tell."""
        return self.closing

    def abort(self) -> None:
        """Cut."""
        self.aborted = True

    def pause_reading(self) -> None:
        """Nothing is read anyway."""

    def resume_reading(self) -> None:
        """Nothing is read anyway."""


class Told:
    """A listener that notes what it is told."""

    def __init__(self) -> None:
        self.events: list[str] = []
        self.written: list[bytes] = []
        self.written_at_close: int | None = None

    def paused(self) -> None:
        """Note."""
        self.events.append("paused")

    def resumed(self) -> None:
        """Note."""
        self.events.append("resumed")

    def closed(self) -> None:
        """Note."""
        self.events.append("closed")
        self.written_at_close = len(self.written)


class Connection:
    """A protocol on a kept transport, with an application that a test steers through ASGI."""

    def __init__(self) -> None:
        self.wire = Wire()
        self.scope: dict[str, Any] = {}
        self.send: Callable[[dict[str, Any]], Awaitable[None]]
        self.end = asyncio.Event()
        config = uvicorn.Config(
            self._app,
            interface="asgi3",
            ws=SocketProtocol,
            log_config=None,
            lifespan="off",
            ws_per_message_deflate=False,
        )
        config.load()
        self.state = ServerState()
        self.protocol = SocketProtocol(config=config, server_state=self.state, app_state={})
        self.told = Told()

    async def _app(self, scope: dict[str, Any], receive: Any, send: Any) -> None:
        self.scope, self.send = scope, send
        await receive()
        await self.end.wait()

    async def open(self) -> SocketTransport:
        """Shake hands, accept, listen."""
        self.protocol.connection_made(self.wire)
        self.protocol.data_received(HANDSHAKE)
        await asyncio.sleep(0)
        transport: SocketTransport = self.scope["extensions"][TRANSPORT]
        assert not transport.is_open
        await self.send({"type": "websocket.accept"})
        transport.listen(self.told)
        self.wire.written.clear()
        return transport

    async def finish(self) -> None:
        """Lose the connection and let the application end."""
        self.protocol.connection_lost(None)
        self.end.set()
        await asyncio.gather(*self.state.tasks)


@pytest.mark.parametrize(("name", "arguments"), OVERRIDDEN.items())
def test_uvicorn_still_has_the_methods_we_extend(name: str, arguments: list[str]) -> None:
    """Every method that is overridden exists in uvicorn with the arguments we pass on, and is overridden by us."""
    theirs = getattr(WebSocketsSansIOProtocol, name)
    assert list(inspect.signature(theirs).parameters)[1:] == arguments
    assert getattr(SocketProtocol, name) is not theirs


async def test_the_state_we_read_is_there() -> None:
    """The attributes that tell an open connection from a closing one exist and begin as we expect."""
    protocol = Connection().protocol
    assert (protocol.handshake_complete, protocol.close_sent, protocol.disconnected) == (False, False, False)
    assert protocol.writable.is_set()
    assert protocol.transport is None


async def test_frames_go_out_after_the_handshake_only() -> None:
    """Before the accept nothing is sent; after it text goes out as one frame, byte for byte."""
    connection = Connection()
    connection.protocol.connection_made(connection.wire)
    early = connection.protocol.to_client
    connection.protocol.data_received(HANDSHAKE)
    await asyncio.sleep(0)
    early.say(b"early")
    assert connection.wire.written == []
    await connection.send({"type": "websocket.accept"})
    assert connection.wire.written[0].startswith(b"HTTP/1.1 101")
    early.say(b"hello")
    assert connection.wire.written[1:] == [text_frame(b"hello")]
    await connection.finish()


async def test_our_frames_and_asgi_frames_keep_their_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """Direct writes and ASGI sends go out in the order they were made, each whole, and nothing is to be cut later."""
    connection = Connection()
    transport = await connection.open()
    calls: list[tuple[float, Callable[[], None]]] = []
    monkeypatch.setattr(connection.protocol, "loop", _Loop(calls))
    transport.say(b"1")
    await connection.send({"type": "websocket.send", "text": "2"})
    transport.write(text_frame(b"3"))
    assert connection.wire.written == [text_frame(b"1"), text_frame(b"2"), text_frame(b"3")]
    assert calls == []
    await connection.finish()


@pytest.mark.parametrize("way", ["client", "application", "shutdown", "garbage", "no pong", "lost"])
async def test_nothing_is_said_after_a_close(way: str) -> None:
    """However a close begins, the listener hears of it once, before the close frame is written, and saying is over."""
    connection = Connection()
    transport = await connection.open()
    connection.told.written = connection.wire.written
    if way == "client":
        connection.protocol.data_received(CLOSE_FRAME)
    elif way == "application":
        await connection.send({"type": "websocket.close", "code": 1008})
    elif way == "shutdown":
        connection.protocol.shutdown()
    elif way == "garbage":
        connection.protocol.data_received(b"\xff\xff\xff\xff")
    elif way == "no pong":
        connection.protocol.keepalive_timeout()
    else:
        connection.protocol.connection_lost(ConnectionResetError())
    written = list(connection.wire.written)
    transport.say(b"late")
    assert connection.told.events == ["closed"]
    assert connection.told.written_at_close == 0
    assert connection.wire.written == written
    assert not transport.is_open
    if way != "lost":
        await connection.finish()
    connection.end.set()
    await asyncio.gather(*connection.state.tasks)
    assert connection.told.events == ["closed"]


async def test_a_full_transport_is_passed_on() -> None:
    """Pause and resume reach the listener, and `ready` waits in between."""
    connection = Connection()
    transport = await connection.open()
    connection.protocol.pause_writing()
    waiting = asyncio.create_task(transport.ready())
    await asyncio.sleep(0)
    assert not waiting.done()
    connection.protocol.resume_writing()
    await waiting
    assert connection.told.events == ["paused", "resumed"]
    await connection.finish()


async def test_a_close_that_cannot_be_sent_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """A closing connection whose client does not read is aborted after a while, since a plain close would wait on."""
    connection = Connection()
    await connection.open()
    calls: list[tuple[float, Callable[[], None]]] = []
    monkeypatch.setattr(connection.protocol, "loop", _Loop(calls))
    connection.protocol.data_received(CLOSE_FRAME)
    [(delay, act)] = calls
    assert delay == CLOSE_S
    act()
    assert connection.wire.aborted
    await connection.finish()


class _Loop:
    def __init__(self, calls: list[tuple[float, Callable[[], None]]]) -> None:
        self._calls = calls

    def call_later(self, delay: float, act: Callable[[], None]) -> _Loop:
        """Note the call."""
        self._calls.append((delay, act))
        return self

    def cancel(self) -> None:
        """Call it off."""


async def test_the_kernel_holds_little_for_a_client() -> None:
    """The kernel's buffer of the connection is bounded: Linux doubles what is asked for (socket(7))."""
    ours, theirs = socket.socketpair()
    with ours, theirs:
        connection = Connection()
        connection.wire.socket = ours
        connection.protocol.connection_made(connection.wire)
        assert ours.getsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF) == 2 * SEND_BUFFER_BYTES


async def test_nothing_small_waits_for_what_went_before() -> None:
    """Nagle's algorithm is off for whoever comes by our listener (RFC 9293 §3.7.4), for answers and for frames."""
    with listening_socket(Settings(data=Path(), port=0)) as listener:
        listener.listen()
        with socket.create_connection(listener.getsockname()):
            accepted, _ = listener.accept()
            accepted.setblocking(False)
            loop = asyncio.get_running_loop()
            transport, _ = await loop.connect_accepted_socket(asyncio.Protocol, accepted)
            assert transport.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
            transport.close()


def from_client(*texts: bytes) -> bytes:
    """Text frames of a client in one piece."""
    return b"".join(Frame(Opcode.TEXT, text).serialize(mask=True) for text in texts)


async def test_the_first_message_of_a_piece_is_taken_at_once_and_the_others_queue() -> None:
    """One message is taken as it comes; of several in one piece only the first, and none past one that has to wait."""
    connection = Connection()
    transport, taken = await connection.open(), list[str]()
    queue = connection.protocol.queue
    transport.take = lambda text: text != "wait" and (taken.append(text) or True)  # type: ignore[func-returns-value]
    connection.protocol.data_received(from_client(b"one"))
    connection.protocol.data_received(from_client(b"two", b"three"))
    assert (taken, queue.qsize()) == (["one", "two"], 1)
    connection.protocol.data_received(from_client(b"four"))
    assert (taken, queue.qsize()) == (["one", "two"], 2)
    assert [(await connection.protocol.receive())["text"] for _ in range(2)] == ["three", "four"]  # type: ignore[typeddict-item]
    connection.protocol.data_received(from_client(b"wait"))
    assert (taken, queue.qsize()) == (["one", "two"], 1)
    await connection.finish()


async def test_what_is_not_text_is_not_taken_at_once() -> None:
    """Bytes that are no UTF-8 close with 1007 (RFC 6455 §8.1), as they did by the queue."""
    connection = Connection()
    transport, taken = await connection.open(), list[str]()
    transport.take = lambda text: taken.append(text) or True  # type: ignore[func-returns-value]
    connection.protocol.data_received(from_client(b"\xff\xfe"))
    assert taken == []
    assert b"".join(connection.wire.written)[2:4] == (1007).to_bytes(2, "big")
    await connection.finish()


async def test_nobody_has_to_listen_and_a_closing_one_is_not_told_of_room(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a listener pause and resume pass by; after a close begun, room is no news."""
    connection = Connection()
    transport = await connection.open()
    listener, transport._listener = transport._listener, None
    connection.protocol.pause_writing()
    connection.protocol.resume_writing()
    transport._listener = listener
    assert connection.told.events == []
    monkeypatch.setattr(type(transport), "is_open", False)
    transport.tell_resumed()
    assert connection.told.events == []
    monkeypatch.undo()
    await connection.finish()
