"""The websocket route `/wire`: lets a client in, feeds its messages to its session, and closes as that says."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

from starlette.responses import PlainTextResponse
from starlette.websockets import WebSocket, WebSocketDisconnect

from tallywire.core.errors import BadMessage
from tallywire.shell.live import LiveCompetition
from tallywire.shell.transport import Transport
from tallywire.web.asgi_transport import AsgiTransport
from tallywire.web.client import Client
from tallywire.web.origin import origin_allowed
from tallywire.web.settings import Settings
from tallywire.web.transport import TRANSPORT

_INTERNAL_ERROR = 1011
"""RFC 6455 §7.4.1, IANA registry."""
_log = logging.getLogger(__name__)


class WireRoute:
    """The endpoint of a live competition; `serve` is for a WebSocketRoute."""

    def __init__(self, live: LiveCompetition, settings: Settings) -> None:
        self._live = live
        self._settings = settings

    async def serve(self, websocket: WebSocket) -> None:
        """Serve one client from its handshake to its close."""
        refusal = self._refusal(websocket)
        if refusal is not None:
            await websocket.send_denial_response(refusal)
            return
        await websocket.accept()
        async with _transport_of(websocket) as transport:
            client = Client(self._live, transport)
            try:
                await _listen(websocket, client)
                await _part(websocket, client, transport)
            except Exception:
                # Whatever it was, it stays this one client's trouble.
                _log.exception("a client's connection failed")
                await _close(websocket, _INTERNAL_ERROR, "internal error")
            finally:
                client.leave()

    def _refusal(self, websocket: WebSocket) -> PlainTextResponse | None:
        if not origin_allowed(websocket.headers, self._settings.allow_origins):
            origin = websocket.headers["origin"]
            text = f"found origin {origin}, expected this server's own: allow it with --allow-origin\n"
            return PlainTextResponse(text, status_code=403)
        if self._live.clients >= self._settings.client_limit:
            return PlainTextResponse(
                f"found {self._live.clients} clients, expected fewer: try later\n", status_code=503
            )
        return None


async def _listen(websocket: WebSocket, client: Client) -> None:
    while client.parting is None:
        message = await websocket.receive()
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text")
        if text is None:
            client.say(BadMessage("found a binary frame, expected a text frame with one JSON object"))
        else:
            client.hear(text)
        await client.ready()


async def _part(websocket: WebSocket, client: Client, transport: Transport) -> None:
    if client.parting is not None:
        await transport.flush()
        await _close(websocket, client.parting.code, client.parting.reason)


async def _close(websocket: WebSocket, code: int, reason: str) -> None:
    # Already gone: uvicorn raises its own OSError, starlette WebSocketDisconnect, both RuntimeError after a close.
    with suppress(WebSocketDisconnect, RuntimeError, OSError):
        await websocket.close(code, reason)


@asynccontextmanager
async def _transport_of(websocket: WebSocket) -> AsyncIterator[Transport]:
    fast: Transport | None = websocket.scope.get("extensions", {}).get(TRANSPORT)
    if fast is not None:
        yield fast
        return
    slow = AsgiTransport(websocket)
    task = asyncio.create_task(slow.run())
    try:
        yield slow
    finally:
        slow.abort()
        await task
