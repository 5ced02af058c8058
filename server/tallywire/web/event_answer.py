"""The answer that goes on: server-sent events for as long as the client stays."""

from __future__ import annotations

import asyncio
from contextlib import suppress

from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from tallywire.shell.outlets import Form, Outlet, Outlets
from tallywire.web.admission import VISIT, Visit
from tallywire.web.answers import problem
from tallywire.wire.event_stream import BEGINNING, HEARTBEAT, HEARTBEAT_S, MEDIA_TYPE

LATER = {"Retry-After": "5", "Cache-Control": "no-store"}
_HEADERS = {
    "Cache-Control": "no-store",
    "Connection": "close",
    "Vary": "Authorization",
    # nginx, as docs/arena has it in front, would keep events until its buffer is full.
    "X-Accel-Buffering": "no",
}


class EventAnswer(Response):
    """Sends the newest event of an outlet whenever there is another one, and a comment when there is none for long.

    A client that reads slowly misses states in between and gets the newest: nothing waits for it but what was being
    sent. `had` is the id of the last event that it had.
    """

    def __init__(self, outlets: Outlets, outlet: Outlet, form: Form, *, had: str) -> None:
        super().__init__(media_type=MEDIA_TYPE, headers=_HEADERS)
        del self.headers["content-length"]
        self._outlets = outlets
        self._outlet = outlet
        self._form: Form = form
        self._had = had
        self._changed = asyncio.Event()
        self._gone = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send until the client leaves or the server stops."""
        if not _settled(scope):
            await _full()(scope, receive, send)
            return
        await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
        if scope["method"] == "HEAD":
            await send({"type": "http.response.body"})
            return
        self._outlet.listeners.add(self._changed.set)
        leaving = asyncio.create_task(self._hear_leaving(receive))
        try:
            await self._send_all(send)
        finally:
            self._outlet.listeners.discard(self._changed.set)
            leaving.cancel()
            with suppress(asyncio.CancelledError):
                await leaving

    async def _send_all(self, send: Send) -> None:
        await send({"type": "http.response.body", "body": BEGINNING, "more_body": True})
        while not (self._gone or self._outlets.closing):
            self._changed.clear()
            newest = self._outlet.newest(self._form)
            if newest.name != self._had:
                self._had = newest.name
                await send({"type": "http.response.body", "body": newest.body, "more_body": True})
            elif not await self._wait():
                await send({"type": "http.response.body", "body": HEARTBEAT, "more_body": True})
        await send({"type": "http.response.body"})

    async def _wait(self) -> bool:
        """Wait for a change; False when there was none for the time of a heartbeat."""
        with suppress(TimeoutError):
            await asyncio.wait_for(self._changed.wait(), HEARTBEAT_S)
        return self._changed.is_set()

    async def _hear_leaving(self, receive: Receive) -> None:
        while (await receive())["type"] != "http.disconnect":
            pass
        self._gone = True
        self._changed.set()


def _settled(scope: Scope) -> bool:
    """Count the connection among those that stay, for its own address where a proxy brings it."""
    visit: Visit | None = scope.get("state", {}).get(VISIT)
    if visit is None:
        return True
    client = Request(scope).client
    if visit.caller.is_proxy and client is not None:
        visit.move_to(client.host)
    return visit.settle()


def _full() -> Response:
    text = "found as many streams as this server, or this address, may have; expected fewer: try again later"
    return problem("too_many", text, status=503, headers=LATER)
