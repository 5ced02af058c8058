"""Which foreign pages may read the outlets: those that may open the wire, and no others (Fetch Standard, "CORS")."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.middleware.cors import CORSMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send

from tallywire.web.headers import DATA

_READ = ("Authorization", "Cache-Control", "If-None-Match", "Last-Event-ID")
_DAY_S = 86_400


class OutletCors:
    """Plain ASGI middleware: CORS for the outlets alone, without credentials."""

    def __init__(self, app: ASGIApp, *, origins: Iterable[str]) -> None:
        allowed = [each.lower().rstrip("/") for each in origins]
        self._app = app
        self._outlets = (
            app
            if not allowed
            else CORSMiddleware(
                app,
                allow_origins=allowed,
                allow_methods=["GET"],
                allow_headers=_READ,
                expose_headers=["ETag", "Retry-After"],
                max_age=_DAY_S,
            )
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""
        is_outlet = scope["type"] == "http" and scope["path"].startswith(DATA)
        await (self._outlets if is_outlet else self._app)(scope, receive, send)
