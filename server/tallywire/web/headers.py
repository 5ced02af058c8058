"""Headers that protect the pages: nothing is loaded from elsewhere, runs inline, or is cached unchecked."""

from __future__ import annotations

import re

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_HOST = re.compile(r"[A-Za-z0-9.:\[\]-]{1,255}")
OF_DATA = {"X-Content-Type-Options": "nosniff"}
"""What every answer says; those that are data say no more."""
DATA = "/v1/"
"""What is below it is data and never a page, so what a page may do needs no saying: hundreds of answers a second."""
_FIXED = {**OF_DATA, "Referrer-Policy": "no-referrer", "Cross-Origin-Opener-Policy": "same-origin"}


class SafeHeaders:
    """Plain ASGI middleware that adds the headers to every HTTP response."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and add headers to its answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        host, is_data = Headers(scope=scope).get("host", ""), scope["path"].startswith(DATA)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                # Scripts, sheets and pictures of the spectator page: the page's own policy holds for them (CSP Level 3,
                # from memory), and with one of their own they would weigh half as much again on every phone.
                is_part = is_data or "immutable" in headers.get("Cache-Control", "")
                headers.update(OF_DATA if is_part else {**_FIXED, "Content-Security-Policy": content_policy(host)})
                headers.setdefault("Cache-Control", "no-cache")
            await send(message)

        await self._app(scope, receive, send_with_headers)


def content_policy(host: str) -> str:
    """Give the Content-Security-Policy of a page that came from `host`.

    The wire's address stands in it by name: not every browser in use counts ws: as the same place as http:.
    """
    wire = f" ws://{host} wss://{host}" if _HOST.fullmatch(host) else ""
    return (
        f"default-src 'self'; connect-src 'self'{wire}; object-src 'none'; base-uri 'none'; "
        "form-action 'self'; frame-ancestors 'self'"
    )
