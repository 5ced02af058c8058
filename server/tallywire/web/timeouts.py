"""HTTP with deadlines: who takes too long for a request, or to read an answer, is cut."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

from tallywire.web.admission import VISIT, Visit

REQUEST_S = 10.0
"""How long a connection may take for a request, the first or another; a phone on bad Wi-Fi takes a second or two."""
STALL_S = 30.0
"""How long what waits to be read may wait."""


class TimeoutProtocol(H11Protocol):
    """uvicorn's own protocol keeps a silent or slow connection, and its descriptor, for as long as the client likes."""

    _deadline: asyncio.TimerHandle | None = None
    _stalled: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait."""
        super().connection_made(transport)
        visit = self._visit
        if visit is not None:
            visit.cut = transport.abort
        self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._cancel()
        if self._visit is not None:
            self._visit.leave()
        super().connection_lost(exc)

    def handle_websocket_upgrade(self, event: Any) -> None:
        """Leave it to the websocket, which has limits of its own."""
        self._cancel()
        super().handle_websocket_upgrade(event)

    def on_response_complete(self) -> None:
        """Wait for the next request, the rest of this one included."""
        if self._visit is not None:
            self._visit.refresh()
        self._expect()
        super().on_response_complete()

    def pause_writing(self) -> None:
        """The client reads too slowly."""
        super().pause_writing()
        self._stalled = self.loop.call_later(STALL_S, self.transport.abort)

    def resume_writing(self) -> None:
        """It has read some."""
        super().resume_writing()
        if self._stalled is not None:
            self._stalled.cancel()

    @property
    def _visit(self) -> Visit | None:
        return self.app_state.get(VISIT)

    def _expect(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
        self._deadline = self.loop.call_later(REQUEST_S, self._give_up)

    def _cancel(self) -> None:
        for timer in (self._deadline, self._stalled):
            if timer is not None:
                timer.cancel()

    def _give_up(self) -> None:
        if self.cycle is None or self.cycle.response_complete:
            self.transport.abort()
