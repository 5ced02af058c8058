"""The transport over ordinary ASGI sends tells its listener when it is full, and when there is room again."""

from __future__ import annotations

import asyncio
from typing import Any, cast

import pytest
from starlette.websockets import WebSocket, WebSocketDisconnect

from tallywire.web.asgi_transport import BOUND_BYTES, AsgiTransport


class Slow:
    """A websocket that sends when it may, and can go away."""

    def __init__(self) -> None:
        self.sent: list[str] = []
        self.may = asyncio.Event()
        self.gone = False

    async def send_text(self, text: str) -> None:
        """Wait for leave, then keep it."""
        await self.may.wait()
        if self.gone:
            raise WebSocketDisconnect
        self.sent.append(text)

    async def close(self, **_: Any) -> None:
        """Close."""


class Listener:
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def paused(self) -> None:
        """The transport is full."""
        self.told.append("paused")

    def resumed(self) -> None:
        """There is room again."""
        self.told.append("resumed")

    def closed(self) -> None:
        """Nothing can be sent any more."""
        self.told.append("closed")


@pytest.mark.parametrize("listens", [True, False])
async def test_it_says_once_that_it_is_full_and_once_that_there_is_room(listens: bool) -> None:
    """At 64 KiB it takes more without a word, beyond them it is full; nobody has to listen."""
    socket, listener = Slow(), Listener()
    transport = AsgiTransport(cast("WebSocket", socket))
    if listens:
        transport.listen(listener)
    running = asyncio.create_task(transport.run())
    transport.say(b"x" * BOUND_BYTES)
    assert listener.told == []
    transport.say(b"y")
    transport.say(b"z")
    assert listener.told == (["paused"] if listens else [])
    socket.may.set()
    await transport.flush()
    assert listener.told == (["paused", "resumed"] if listens else [])
    transport.say(b"more")
    await transport.flush()
    assert listener.told == (["paused", "resumed"] if listens else [])
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
