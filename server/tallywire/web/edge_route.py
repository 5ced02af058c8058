"""The wire of an edge: who only watches is served here; whoever shows a key is handed on to the writer, both ways."""

from __future__ import annotations

import asyncio
import logging
from contextlib import suppress
from hashlib import sha256

import orjson
from starlette.websockets import WebSocket
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, WebSocketException

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.opening import RedisOptions, shared
from tallywire.shell.live import LiveCompetition
from tallywire.shell.transport import Transport
from tallywire.web.admission import Admission
from tallywire.web.client import TRY_AGAIN_LATER
from tallywire.web.settings import Settings
from tallywire.web.wire_route import Conversation, WireRoute
from tallywire.wire.messages import MESSAGE_LIMIT
from tallywire.wire.session import Close

OPEN_S = 5.0
"""How long the writer may take to let somebody in; then the device tries again by itself."""
_FRAME_LIMIT = 16 * 1024 * 1024
_WELCOME = b'{"type":"welcome"'
_log = logging.getLogger(__name__)


class EdgeRoute(WireRoute):
    """The endpoint of an edge, whose writer is at `redis`."""

    def __init__(self, live: LiveCompetition, settings: Settings, admission: Admission, *, redis: RedisOptions) -> None:
        super().__init__(live, settings, admission)
        self._redis = redis

    def conversation(self, websocket: WebSocket, transport: Transport) -> Conversation:
        """Give a conversation that is handed on once a key is shown."""
        return EdgeConversation(websocket, transport, self._redis)


class EdgeConversation(Conversation):
    """A client's messages, taken here until it shows a key; from then on the writer takes them, and answers."""

    def __init__(self, websocket: WebSocket, transport: Transport, redis: RedisOptions) -> None:
        super().__init__(websocket, transport)
        self._redis = redis
        self._handing = False
        """A key was shown: what follows waits until the writer has been reached, however long that takes."""
        self._writer: ClientConnection | None = None
        self._answers: asyncio.Task[None] | None = None

    def take_at_once(self, text: str) -> bool:
        """Take a message that needs no writer."""
        return not (self._handing or shows_key(text)) and super().take_at_once(text)

    async def take_in_turn(self, text: str) -> None:
        """Take a message, or hand it on."""
        if not self._handing and not shows_key(text):
            await super().take_in_turn(text)
            return
        self._handing = True
        try:
            await self._hand_on(text)
        except (JournalFailed, OSError, TimeoutError, WebSocketException) as exc:
            _log.warning("the writer cannot be reached (%s)", exc)
            self.client.parting = Close(code=TRY_AGAIN_LATER, reason="writer not reached")

    async def _hand_on(self, text: str) -> None:
        if self._writer is None:
            address = await asyncio.to_thread(writer_address, self._redis)
            self._writer = await connect(
                address,
                # For a writer that trusts this edge, as it does a proxy.
                additional_headers={"X-Forwarded-For": self.client.address},
                compression=None,
                max_size=_FRAME_LIMIT,
                open_timeout=OPEN_S,
                proxy=None,
            )
            self.client.hand_over()
            # As a link is bounded by the hash of its key at the writer, so it is here, once the writer has let it in.
            link = sha256(text.encode()).hexdigest()
            self._answers = asyncio.create_task(self._pass_back(self._writer, link))
        if len(text) <= MESSAGE_LIMIT:
            await self._writer.send(text)

    async def _pass_back(self, writer: ClientConnection, link: str) -> None:
        with suppress(ConnectionClosed):
            async for message in writer:
                payload = message.encode() if isinstance(message, str) else message
                if payload.startswith(_WELCOME):
                    self.client.trust(link)
                await self.transport.ready()
                self.transport.say(payload)
        code, reason = writer.close_code or TRY_AGAIN_LATER, writer.close_reason or "writer gone"
        # RFC 6455 §7.4.1: these three are never sent.
        self.client.parting = Close(code=TRY_AGAIN_LATER if code in (1005, 1006, 1015) else code, reason=reason)
        self.part_soon()

    async def end(self) -> None:
        """Let the writer know that the client is gone."""
        if self._answers is not None:
            self._answers.cancel()
        if self._writer is not None:
            await self._writer.close()


def shows_key(text: str) -> bool:
    """Tell whether a message is a hello with a key."""
    # Cheap for all others, which are most: JSON may not write these letters otherwise without being odd.
    if '"key"' not in text or len(text) > MESSAGE_LIMIT:
        return False
    try:
        message = orjson.loads(text)
    except orjson.JSONDecodeError:
        return False
    return isinstance(message, dict) and message.get("type") == "hello" and message.get("key") is not None


def writer_address(redis: RedisOptions) -> str:
    """Give the wire of the writer. Raises JournalFailed when nobody says where it is."""
    kept = redis.writer or (shared(redis, "writer").read() or b"").decode()
    if not kept:
        raise JournalFailed("found no writer's address, expected that of a running server")
    return f"ws{kept.removeprefix('http')}/wire"
