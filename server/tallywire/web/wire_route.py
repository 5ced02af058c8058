"""The websocket route `/wire`: it lets a client in, hands its messages to its session, and closes when that says so."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress

from starlette.responses import Response
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
from tallywire.web.transport import TRANSPORT, SocketTransport
from tallywire.wire.session import Close

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
                conversation = self.conversation(websocket, transport)
                conversation.client = Client(self._live, transport, visit, part=conversation.part_soon)
                await conversation.run()

    def conversation(self, websocket: WebSocket, transport: Transport) -> Conversation:
        """Give the conversation with one client."""
        return Conversation(websocket, transport)

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


class Conversation:
    """A client's messages, each taken as soon as it may be, until one of both sides parts."""

    client: Client

    def __init__(self, websocket: WebSocket, transport: Transport) -> None:
        self._websocket = websocket
        self.transport = transport
        self._parting: asyncio.Task[None] | None = None

    async def run(self) -> None:
        """Go on until the connection is over."""
        if isinstance(self.transport, SocketTransport):
            self.transport.take = self.take_at_once
        try:
            await self._listen()
            await self._part()
        except Exception:
            self._fail()
            await self._part()
        finally:
            self.client.leave()
            await self.end()

    async def take_in_turn(self, text: str) -> None:
        """Take a message as soon as the client may go on."""
        await self.client.take_in_turn(text)

    def part_soon(self) -> None:
        """Close the connection, from a place that cannot wait for it."""
        if self._parting is None:
            self._parting = asyncio.create_task(self._part())

    async def end(self) -> None:
        """Hear that the connection is over."""

    def take_at_once(self, text: str) -> bool:
        """Take a message as soon as it has come; False when it has to wait for its turn."""
        try:
            taken = self.client.take(text)
        except Exception:
            self._fail()
            taken = True
        if self.client.parting is not None:
            self.part_soon()
        return taken

    async def _listen(self) -> None:
        """Take what had to wait in the queue, until the client parts."""
        while self.client.parting is None:
            message = await self._websocket.receive()
            if message["type"] == "websocket.disconnect":
                return
            text = message.get("text")
            if text is None:
                self.client.say(BadMessage("found a binary frame, expected a text frame with one JSON object"))
            else:
                await self.take_in_turn(text)
            # What came in one piece is not taken in one go: the others have their turn in between.
            await asyncio.sleep(0)

    async def _part(self) -> None:
        parting = self.client.parting
        if parting is not None:
            await self.transport.flush()
            await _close(self._websocket, parting.code, parting.reason)

    def _fail(self) -> None:
        # Whatever the error was, it affects this client alone.
        _log.exception("a client's connection failed")
        self.client.parting = Close(code=_INTERNAL_ERROR, reason="internal error")


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
