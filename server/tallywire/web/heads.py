"""How long the head of a request may be, in one piece or in many."""

from __future__ import annotations

from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocket

from tallywire.web.answers import problem

HEAD_LIMIT = 16 * 1024
"""A browser sends one or two KiB. Of a head that comes in pieces no more is kept either (`http_protocol`)."""


class ShortHeads:
    """Plain ASGI middleware that answers a longer head with 431 (RFC 6585 §5) before anything else looks at it."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what is short enough."""
        size = _size(scope)
        if size <= HEAD_LIMIT:
            await self._app(scope, receive, send)
            return
        text = f"found a request head of {size} bytes, expected at most {HEAD_LIMIT}"
        refusal = problem("long_head", text, status=431, headers={"Connection": "close"})
        if scope["type"] == "websocket":
            await WebSocket(scope, receive, send).send_denial_response(refusal)
        else:
            await refusal(scope, receive, send)


def _size(scope: Scope) -> int:
    """Give about how many bytes it has: the path, and names and values of the fields."""
    if scope["type"] not in ("http", "websocket"):
        return 0
    fields = sum(len(name) + len(value) for name, value in scope["headers"])
    return fields + len(scope.get("raw_path") or b"") + len(scope.get("query_string") or b"")
