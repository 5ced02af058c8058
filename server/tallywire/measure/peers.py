"""Other ways of telling everybody, to stand beside ours: a program for each, that a text makes send one frame to all.

    python -m tallywire.measure.peers NAME SIZE [JOURNAL]

It prints its port. Whoever connects is sent every frame, but not at `/pad`: what comes in there has a frame of SIZE
bytes sent. `transport` writes the frame, made once, straight to every transport: nothing in Python does less. With
JOURNAL it appends a line there first, as our server does before it acknowledges: that is the limit of what we do.
`polls` stands beside our outlets: it is asked, and answers with SIZE bytes or 304.
"""

from __future__ import annotations

import asyncio
import socket
import sys
import time
from collections.abc import Callable, Coroutine
from contextlib import suppress
from importlib import import_module
from itertools import count
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.routing import WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.asyncio.server import ServerConnection, broadcast, serve
from websockets.exceptions import ConnectionClosed

from tallywire.measure.plug import raise_file_limit
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.wire.text_frame import text_frame

PAD = "/pad"
POLLED_CHANGES_A_SECOND = 3
_MANY = 10_000
_SELDOM_S = 1e6
_ACCEPT = (
    b"HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
    b"Sec-WebSocket-Accept: s3pPLMBiTxaQ9kYGzzhZRbK+xOo=\r\n\r\n"
)
"""The answer to the key that every plug sends, the example of RFC 6455 §1.3."""


class _Bare(asyncio.Protocol):
    """A websocket that understands one handshake, and takes whatever follows at the pad's path for a tap."""

    _transport: asyncio.Transport | None = None

    def __init__(self, watchers: list[asyncio.Transport], tapped: Callable[[bytes], object]) -> None:
        self._watchers, self._tapped = watchers, tapped

    def connection_made(self, made: asyncio.BaseTransport) -> None:
        """Set the socket up as our server does."""
        if isinstance(made, asyncio.Transport):
            made.get_extra_info("socket").setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._made = made

    def data_received(self, data: bytes) -> None:
        """Take the handshake, and then taps."""
        if self._transport is not None:
            self._tapped(data)
            return
        self._transport = self._made
        self._transport.write(_ACCEPT)
        if not data.startswith(f"GET {PAD} ".encode()):
            self._watchers.append(self._transport)


async def _transport(size: int, journal: str | None) -> None:
    frame, watchers = text_frame(b"x" * size), list[asyncio.Transport]()
    kept = None if journal is None else SqliteJournal.open(Path(journal))
    sequence, writing = count(1), set[asyncio.Task[None]]()

    def tell() -> None:
        for each in watchers:
            each.write(frame)

    async def keep_and_tell(store: SqliteJournal, data: bytes) -> None:
        await store.append([Draft(sender="pad", sequence=next(sequence), body=data)], received_unix_ms=0)
        tell()

    def tapped(data: bytes) -> None:
        if kept is None:
            tell()
            return
        task = asyncio.create_task(keep_and_tell(kept, data))
        writing.add(task)
        task.add_done_callback(writing.discard)

    server = await asyncio.get_running_loop().create_server(lambda: _Bare(watchers, tapped), "127.0.0.1", 0)
    _say_port(server.sockets[0])
    await server.serve_forever()


async def _broadcast(size: int, _journal: str | None) -> None:
    text, watchers = "x" * size, set[ServerConnection]()

    async def handle(connection: ServerConnection) -> None:
        if connection.request is not None and connection.request.path != PAD:
            watchers.add(connection)
        with suppress(ConnectionClosed):
            async for _ in connection:
                broadcast(watchers, text)

    async with serve(handle, "127.0.0.1", 0, compression=None, ping_interval=None) as server:
        _say_port(next(iter(server.sockets)))
        await server.serve_forever()


async def _loop(size: int, _journal: str | None) -> None:
    text, watchers = "x" * size, set[WebSocket]()

    async def endpoint(websocket: WebSocket) -> None:
        await websocket.accept()
        if websocket.url.path != PAD:
            watchers.add(websocket)
        try:
            while True:
                await websocket.receive_text()
                for each in list(watchers):
                    await each.send_text(text)
        except WebSocketDisconnect:
            watchers.discard(websocket)

    await _on_uvicorn(Starlette(routes=[WebSocketRoute("/{path:path}", endpoint)]))


async def _room(size: int, _journal: str | None) -> None:
    socketio: Any = import_module("socketio")
    server = socketio.AsyncServer(async_mode="asgi", ping_interval=_SELDOM_S)
    text = "x" * size

    async def connect(name: str, _environment: object) -> None:
        await server.enter_room(name, "watchers")

    async def tap(name: str) -> None:
        await server.leave_room(name, "watchers")
        await server.emit("frame", text, room="watchers")

    server.on("connect", connect)
    server.on("tap", tap)
    await _on_uvicorn(socketio.ASGIApp(server))


async def _polls(size: int, _journal: str | None) -> None:
    """Hand out something that changes as often as the heat is tapped, with as little as an ASGI application can do."""
    body = b"x" * size

    async def application(scope: Any, _receive: Any, send: Any) -> None:
        tag = b'"%032d"' % int(time.monotonic() * POLLED_CHANGES_A_SECOND)
        fields = [(b"etag", tag), (b"cache-control", b"no-cache"), (b"content-type", b"application/json")]
        if (b"if-none-match", tag) in scope["headers"]:
            await send({"type": "http.response.start", "status": 304, "headers": fields})
            await send({"type": "http.response.body"})
            return
        fields.append((b"content-length", b"%d" % size))
        await send({"type": "http.response.start", "status": 200, "headers": fields})
        await send({"type": "http.response.body", "body": body})

    await _on_uvicorn(application)


async def _on_uvicorn(application: Any) -> None:
    """Serve an application with the settings that our server has."""
    listener = socket.create_server(("127.0.0.1", 0), backlog=128)
    config = uvicorn.Config(
        application,
        ws=WebSocketsSansIOProtocol,
        ws_per_message_deflate=False,
        ws_ping_interval=None,
        lifespan="off",
        log_config=None,
        access_log=False,
    )
    _say_port(listener)
    await uvicorn.Server(config).serve(sockets=[listener])


def _say_port(listener: Any) -> None:
    print(listener.getsockname()[1], flush=True)


WAYS: dict[str, Callable[[int, str | None], Coroutine[Any, Any, None]]] = {
    "transport": _transport,
    "broadcast": _broadcast,
    "loop": _loop,
    "room": _room,
    "polls": _polls,
}


if __name__ == "__main__":
    raise_file_limit(_MANY)
    name, frame_size, *where = sys.argv[1:]
    asyncio.run(WAYS[name](int(frame_size), where[0] if where else None))
