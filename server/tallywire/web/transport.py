"""uvicorn's sans-I/O websocket protocol, with a way to send that skips ASGI: frames go straight to the transport.

tests/web/test_transport.py checks everything that this relies on in uvicorn.
"""

from __future__ import annotations

import asyncio
import socket
from asyncio.transports import BaseTransport
from collections.abc import Callable, Sequence
from typing import Any, cast

from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from tallywire.shell.transport import TransportListener
from tallywire.web.admission import VISIT, Visit
from tallywire.wire.text_frame import text_frame

TRANSPORT = "tallywire.transport"
"""The client's transport among a scope's `extensions`."""

SEND_BUFFER_BYTES = 128 * 1024
"""How many bytes the kernel may hold for one client; they are out of date by the time a slow client reads them."""

CLOSE_S = 5.0
"""How long a closing connection may take to send the rest; a client that never reads would hold it open for ever."""


class SocketTransport:
    """A client's transport that writes to the asyncio transport of one websocket connection."""

    def __init__(self, protocol: SocketProtocol) -> None:
        self._protocol = protocol
        self._listener: TransportListener | None = None
        self.take: Callable[[str], bool] | None = None
        """Takes a message as soon as it has come; False, and it is not taken, when it has to wait in the queue."""
        self.write: Callable[[bytes], object] = protocol.transport.write
        self.write_all: Callable[[Sequence[bytes]], object] = protocol.transport.writelines

    @property
    def is_open(self) -> bool:
        """True from the accepted handshake until a close begins."""
        protocol = self._protocol
        return protocol.handshake_complete and not protocol.is_closing()

    def say(self, payload: bytes) -> None:
        """Send text, unless it is closed."""
        if self.is_open:
            self.write(text_frame(payload))

    def listen(self, listener: TransportListener) -> None:
        """Tell this listener, and no other, from now on."""
        self._listener = listener

    @property
    def is_ready(self) -> bool:
        """True while the transport has room."""
        return self._protocol.writable.is_set()

    async def ready(self) -> None:
        """Wait until the transport has room."""
        await self._protocol.writable.wait()

    async def flush(self) -> None:
        """Return at once: the asyncio transport has everything, and sends it before a close frame."""

    def abort(self) -> None:
        """Cut the connection at once."""
        self._protocol.transport.abort()

    def tell_paused(self) -> None:
        """Pass on that the transport is full."""
        if self._listener is not None:
            self._listener.paused()

    def tell_resumed(self) -> None:
        """Pass on that the transport has room again."""
        if self._listener is not None and self.is_open:
            self._listener.resumed()

    def tell_closed(self) -> None:
        """Pass on, once, that nothing can be sent any more."""
        listener, self._listener = self._listener, None
        if listener is not None:
            listener.closed()


class SocketProtocol(WebSocketsSansIOProtocol):
    """Puts a SocketTransport in the scope, and closes it before anything could follow the close frame."""

    to_client: SocketTransport
    _abort_timer: asyncio.TimerHandle | None = None
    _has_turn = False

    def connection_made(self, transport: BaseTransport) -> None:
        """Make the client's transport, and bound what the kernel holds for this client."""
        super().connection_made(transport)
        raw = transport.get_extra_info("socket")
        if raw is not None:
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES)
        self.to_client = SocketTransport(self)
        visit = self._visit
        if visit is not None:
            visit.cut = self.transport.abort

    def handle_connect(self, event: Any) -> None:
        """Put it in the scope; the application's task begins only after this."""
        super().handle_connect(event)
        if not self.close_sent:
            cast(dict[str, Any], self.scope["extensions"])[TRANSPORT] = self.to_client

    def data_received(self, data: bytes) -> None:
        """Take the first message in it at once; the others wait in the queue, so that other clients have their turn."""
        self._has_turn = True
        super().data_received(data)

    def send_receive_event_to_app(self) -> None:
        """A message is complete: without a detour through the queue and its task it costs a third less."""
        if not (self._has_turn and self._taken_at_once()):
            super().send_receive_event_to_app()
        self._has_turn = False

    def _taken_at_once(self) -> bool:
        take = self.to_client.take
        if take is None or self.close_sent or self.read_paused or self.curr_msg_data_type != "text":
            return False
        try:
            text = b"".join(self.frames).decode()
        except UnicodeDecodeError:
            return False
        return take(text)

    def is_closing(self) -> bool:
        """Tell whether a close frame was sent, or received, or the connection is gone."""
        return self.close_sent or self.disconnected or self.transport.is_closing()

    def pause_writing(self) -> None:
        """The transport is full."""
        super().pause_writing()
        self.to_client.tell_paused()

    def resume_writing(self) -> None:
        """The transport has room again."""
        super().resume_writing()
        self.to_client.tell_resumed()

    def handle_close(self, event: Any) -> None:
        """The client closes."""
        self.to_client.tell_closed()
        super().handle_close(event)
        self._watch_closing()

    def handle_parser_exception(self) -> None:
        """The client broke the protocol, or sent too large a message."""
        self.to_client.tell_closed()
        super().handle_parser_exception()
        self._watch_closing()

    def keepalive_timeout(self) -> None:
        """The client did not answer a ping."""
        self.to_client.tell_closed()
        super().keepalive_timeout()
        self._watch_closing()

    def shutdown(self) -> None:
        """The server stops."""
        self.to_client.tell_closed()
        super().shutdown()
        self._watch_closing(within_s=1.0)

    async def send(self, message: Any) -> None:
        """Send an ASGI message; a close ends the client's transport first."""
        if message["type"] == "websocket.close":
            self.to_client.tell_closed()
        await super().send(message)
        self._watch_closing()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is gone."""
        if self._abort_timer is not None:
            self._abort_timer.cancel()
        if self._visit is not None:
            self._visit.leave()
        self.to_client.tell_closed()
        super().connection_lost(exc)

    @property
    def _visit(self) -> Visit | None:
        return self.app_state.get(VISIT)

    def _watch_closing(self, *, within_s: float = CLOSE_S) -> None:
        if self.is_closing() and not self.disconnected:
            if self._abort_timer is not None:
                self._abort_timer.cancel()
            self._abort_timer = self.loop.call_later(within_s, self.transport.abort)
