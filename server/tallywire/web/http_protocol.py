"""HTTP with bounds: who takes too long for a request or to read an answer, or sends too much at a time, is cut.

tests/web/test_http_bounds.py checks everything that this relies on in uvicorn and in its parser, which is written in C.
"""

from __future__ import annotations

import asyncio
from typing import Any

import uvicorn
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol
from uvicorn.server import ServerState

from tallywire.web.admission import VISIT, Visit
from tallywire.web.heads import HEAD_LIMIT
from tallywire.web.polls import Poll, Polls

REQUEST_S = 10.0
"""How long a connection may take for a request, the first or another; a phone on bad Wi-Fi takes a second or two."""
STALL_S = 30.0
"""How long what waits to be read may wait."""
REQUESTS_AHEAD = 16
"""How many requests may wait for the answer to an earlier one of their connection; a browser sends none."""


class BoundedHttp(HttpToolsProtocol):
    """uvicorn's own protocol keeps a silent or slow connection, and its descriptor, for as long as the client likes.

    It also keeps a head that does not end, and every request that follows another one in the same piece.
    """

    def __init__(self, config: uvicorn.Config, server_state: ServerState, state: Any, *, polls: Polls | None) -> None:
        super().__init__(config, server_state, state)
        self._polls = polls

    _is_answered = False
    """Whether the request that is being read was answered here, so that uvicorn hears nothing of it."""
    _unheeded = 0
    """How many bytes have come since anything was complete."""
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

    def data_received(self, data: bytes) -> None:
        """Take what has come, unless it is part of a head, or of what ends a body, that has become too long."""
        self._unheeded += len(data)
        super().data_received(data)
        if self._unheeded > HEAD_LIMIT and not self.transport.is_closing():
            self.send_400_response("Head too long.")

    def on_headers_complete(self) -> None:
        """A head is complete: the application looks at its size."""
        self._unheeded = 0
        answer = self._polled()
        self._is_answered = answer is not None
        if answer is not None:
            self.transport.write(answer)
            self._answered()
            return
        super().on_headers_complete()
        if len(self.pipeline) > REQUESTS_AHEAD:
            # The parser stops at an error, with all that is still to come of this piece.
            raise ValueError("too many requests ahead")

    def on_body(self, body: bytes) -> None:
        """A piece of a body has come: how much of it is taken in is bounded elsewhere."""
        self._unheeded = 0
        super().on_body(body)

    def on_message_complete(self) -> None:
        """A request is complete."""
        self._unheeded = 0
        if not self._is_answered:
            super().on_message_complete()

    def handle_websocket_upgrade(self) -> None:
        """Leave it to the websocket, which has limits of its own."""
        self._cancel()
        super().handle_websocket_upgrade()

    def on_response_complete(self) -> None:
        """Wait for the next request, the rest of this one included."""
        self._answered()
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

    def _answered(self) -> None:
        if self._visit is not None:
            self._visit.refresh()
        self._expect()

    def _polled(self) -> bytes | None:
        """Give the answer to a plain poll of an outlet; None for whatever else is asked, or has to wait for others."""
        visit, parser = self._visit, self.parser
        is_free = (self.cycle is None or self.cycle.response_complete) and not self.flow.write_paused
        if self._polls is None or visit is None or not is_free or self.transport.is_closing():
            return None
        if parser.get_method() != b"GET" or parser.get_http_version() != "1.1" or parser.should_upgrade():
            return None
        poll = Poll(self.url, self.headers, (self.server or ("", 0))[0], visit)
        return self._polls.answer(poll, now=self.loop.time(), stamp=self.server_state.default_headers)

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
