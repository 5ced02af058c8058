"""HTTP with a timeout: a connection that does not finish its first request in time is cut."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

REQUEST_S = 10.0
"""How long a connection may take for its first request; a phone on bad Wi-Fi takes a second or two."""


class TimeoutProtocol(H11Protocol):
    """uvicorn's own protocol keeps a silent connection, and its file descriptor, for as long as the client likes."""

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait."""
        super().connection_made(transport)
        self._deadline = self.loop.call_later(REQUEST_S, self._give_up)

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._arrived()
        super().connection_lost(exc)

    def handle_websocket_upgrade(self, event: Any) -> None:
        """Leave it to the websocket, which has limits of its own."""
        self._arrived()
        super().handle_websocket_upgrade(event)

    def _arrived(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()

    def _give_up(self) -> None:
        if self.cycle is None:
            self.transport.abort()
