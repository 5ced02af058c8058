"""Who is behind a trusted proxy: without this all of them are one address, and share its bounds."""

from __future__ import annotations

import ipaddress

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from tallywire.web.admission import CALLER, VISIT, Admission, Visit


class Forwarded:
    """Plain ASGI middleware that takes the client's address from a trusted proxy's `X-Forwarded-For`, and no other's.

    The last address counts: it is the one that the proxy itself saw. What stands before it anybody may have written. A
    websocket is counted with that address from here on; so is each HTTP request, on a connection that stays the
    proxy's.
    """

    def __init__(self, app: ASGIApp, *, admission: Admission) -> None:
        self._app = app
        self._admission = admission

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on as its client's."""
        visit: Visit | None = scope.get("state", {}).get(VISIT)
        if visit is not None and visit.caller.is_proxy:
            address = _last_address(Headers(scope=scope).getlist("x-forwarded-for"))
            if address is not None:
                scope["client"] = (address, 0)
                if scope["type"] == "websocket":
                    visit.move_to(address)
                else:
                    scope["state"] = {**scope["state"], CALLER: self._admission.passing(address)}
        await self._app(scope, receive, send)


def _last_address(fields: list[str]) -> str | None:
    last = ",".join(fields).rpartition(",")[2].strip().strip("[]")
    try:
        return str(ipaddress.ip_address(last))
    except ValueError:
        return None
