"""The websocket route `/wire`: it lets a client in, hands its messages to its session, and closes when that says so."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress

from starlette.responses import Response
from starlette.types import Message
from starlette.websockets import WebSocket, WebSocketDisconnect

from tallywire.core.errors import BadMessage
from tallywire.shell.live import LiveCompetition
from tallywire.shell.transport import Transport
from tallywire.web.admission import VISIT, Admission, Visit
from tallywire.web.answers import problem
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

    def __init__(self, live: LiveCompetition, settings: Settings, admission: Admission) -> None:
        self._live = live
        self._settings = settings
        self._admission = admission

    async def serve(self, websocket: WebSocket) -> None:
        """Serve one client from its handshake to its close."""
        refusal = self._refusal(websocket)
        if refusal is not None:
            _log.warning("a handshake of %s was refused: its origin is foreign", _host_of(websocket))
            await websocket.send_denial_response(refusal)
            return
        await websocket.accept()
        with self._visit_of(websocket) as visit:
            async with _transport_of(websocket) as transport:
                parting: list[asyncio.Task[None]] = []

                def part() -> None:
                    parting.append(asyncio.create_task(_part(websocket, client, transport)))

                client = Client(self._live, transport, visit, part=part)
                await _talk(websocket, client, transport)

    @contextmanager
    def _visit_of(self, websocket: WebSocket) -> Iterator[Visit]:
        """Give the visit that came by our own door; on another server the connection is counted from here on."""
        own: Visit | None = websocket.scope.get("state", {}).get(VISIT)
        visit = own or self._admission.walk_in(_host_of(websocket))
        try:
            yield visit
        finally:
            if own is None:
                visit.leave()

    def _refusal(self, websocket: WebSocket) -> Response | None:
        if origin_allowed(websocket.headers, self._settings.allow_origins):
            return None
        origin = websocket.headers["origin"]
        text = f"found origin {origin}, expected this server's own: allow it with --allow-origin"
        return problem("foreign_origin", text, status=403)


def _host_of(websocket: WebSocket) -> str:
    return websocket.client.host if websocket.client else ""


async def _talk(websocket: WebSocket, client: Client, transport: Transport) -> None:
    try:
        await _listen(websocket, client)
        await _part(websocket, client, transport)
    except Exception:
        # Whatever the error was, it affects this client alone.
        _log.exception("a client's connection failed")
        await _close(websocket, _INTERNAL_ERROR, "internal error")
    finally:
        client.leave()


async def _listen(websocket: WebSocket, client: Client) -> None:
    while client.parting is None:
        message = await _next(websocket, client)
        if message is None:
            client.part_idle()
            return
        if message["type"] == "websocket.disconnect":
            return
        text = message.get("text")
        if text is None:
            client.say(BadMessage("found a binary frame, expected a text frame with one JSON object"))
        else:
            client.hear(text)
        await client.ready()
        # What came in one piece is not taken in one go: the others have their turn in between.
        await asyncio.sleep(0)


async def _next(websocket: WebSocket, client: Client) -> Message | None:
    """Give the next message, None when the client has been idle for too long."""
    if client.idle_until is None:
        return await websocket.receive()
    try:
        async with asyncio.timeout_at(client.idle_until):
            return await websocket.receive()
    except TimeoutError:
        return None


async def _part(websocket: WebSocket, client: Client, transport: Transport) -> None:
    if client.parting is not None:
        await transport.flush()
        await _close(websocket, client.parting.code, client.parting.reason)


async def _close(websocket: WebSocket, code: int, reason: str) -> None:
    # The client is already gone: uvicorn raises its own OSError, starlette WebSocketDisconnect, both RuntimeError after
    # a close.
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
