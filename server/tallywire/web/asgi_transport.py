"""A Transport over ordinary ASGI sends, for servers and in-process tests without the faster SocketTransport."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Iterable
from contextlib import suppress

from starlette.websockets import WebSocket, WebSocketDisconnect

from tallywire.shell.transport import TransportListener
from tallywire.wire.text_frame import frame_payload

BOUND_BYTES = 64 * 1024


class AsgiTransport:
    """Queues frames for one task that sends them; `run` is that task."""

    def __init__(self, websocket: WebSocket) -> None:
        self._websocket = websocket
        self._queue: deque[bytes] = deque()
        self._bytes = 0
        self._filled, self._empty, self._ready = asyncio.Event(), asyncio.Event(), asyncio.Event()
        self._empty.set()
        self._ready.set()
        self._listener: TransportListener | None = None
        self.is_open = True

    def write(self, frame: bytes) -> None:
        """Queue a frame made by `text_frame`."""
        self.say(frame_payload(frame))

    def write_all(self, frames: Iterable[bytes]) -> None:
        """Queue several of them."""
        for frame in frames:
            self.write(frame)

    def say(self, payload: bytes) -> None:
        """Queue text, unless the transport is closed."""
        if not self.is_open:
            return
        self._queue.append(payload)
        self._bytes += len(payload)
        self._filled.set()
        self._empty.clear()
        if self._bytes > BOUND_BYTES and self._ready.is_set():
            self._ready.clear()
            if self._listener is not None:
                self._listener.paused()

    def listen(self, listener: TransportListener) -> None:
        """Tell this listener, and no other, from now on."""
        self._listener = listener

    @property
    def is_ready(self) -> bool:
        """True while less than the bound is queued."""
        return self._ready.is_set()

    async def ready(self) -> None:
        """Wait until less than the bound is queued."""
        await self._ready.wait()

    async def flush(self) -> None:
        """Wait until the queue is sent."""
        await self._empty.wait()

    def abort(self) -> None:
        """Send nothing more."""
        if not self.is_open:
            return
        self.is_open = False
        self._queue.clear()
        for event in (self._filled, self._empty, self._ready):
            event.set()
        if self._listener is not None:
            self._listener.closed()

    async def run(self) -> None:
        """Send until the transport is closed."""
        # Starlette raises the first when the client is gone, and the second when our own close is under way.
        with suppress(WebSocketDisconnect, RuntimeError):
            while self.is_open:
                await self._filled.wait()
                await self._send_queue()
        self.abort()

    async def _send_queue(self) -> None:
        while self._queue:
            payload = self._queue.popleft()
            await self._websocket.send_text(payload.decode())
            self._bytes -= len(payload)
        if not self.is_open:
            return
        self._filled.clear()
        self._empty.set()
        if not self._ready.is_set():
            self._ready.set()
            if self._listener is not None:
                self._listener.resumed()
