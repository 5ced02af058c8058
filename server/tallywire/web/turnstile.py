"""How fast one address is answered: requests beyond its allowance wait their turn, and nobody else waits for them."""

from __future__ import annotations

import asyncio

from starlette.types import ASGIApp, Receive, Scope, Send

from tallywire.web.admission import CALLER, VISIT, Caller, Visit


class Turnstile:
    """Plain ASGI middleware that delays requests: a connection has one at a time, so few of an address can wait."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on when it is its turn."""
        state = scope.get("state", {})
        visit: Visit | None = state.get(VISIT)
        if scope["type"] == "http" and visit is not None:
            caller: Caller = state.get(CALLER, visit.caller)
            now, requests = asyncio.get_running_loop().time(), caller.requests
            requests.owe(1, now)
            wait_s = requests.wait_s(now)
            if wait_s > 0:
                await asyncio.sleep(wait_s)
        await self._app(scope, receive, send)
