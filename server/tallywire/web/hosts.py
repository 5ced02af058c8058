"""Which names the server answers to, so that a foreign page whose name was pointed at this machine reaches nothing."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterable
from functools import lru_cache

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocket

from tallywire.web.answers import problem

_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{1,5})?")
"""RFC 9112 §3.2 with RFC 3986 §3.2.2, narrowed to what the names and addresses of a venue need; the port is ignored."""
_SHOWN = 80


class OwnHosts:
    """Plain ASGI middleware that refuses requests and handshakes whose `Host` is not one of the server's own names.

    Its own names are the loopback names, the address at which the request came in, and the names given. That address
    belongs to this machine, so a server that listens on all addresses needs no list of them.
    """

    def __init__(self, app: ASGIApp, *, names: Iterable[str] = ()) -> None:
        self._app = app
        self._names = plain_names(names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what is meant for this server."""
        refusal = self._refusal(scope)
        if refusal is None:
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await WebSocket(scope, receive, send).send_denial_response(refusal)
        else:
            await refusal(scope, receive, send)

    def _refusal(self, scope: Scope) -> Response | None:
        hosts = Headers(scope=scope).getlist("host")
        found = _HOST.fullmatch(hosts[0]) if len(hosts) == 1 else None
        if found is None:
            # RFC 9112 §3.2: there is no Host, more than one, or one that is not a host.
            return problem("bad_host", "expected one Host header with this server's name", status=400)
        if is_own(hosts[0], self._names, (scope.get("server") or ("",))[0]):
            return None
        # RFC 9110 §15.5.20: misdirected.
        name = _plain(found[1])[:_SHOWN]
        text = f"found host {name}, expected this server's own name or address: allow it with --allow-host"
        return problem("foreign_host", text, status=421)


def plain_names(names: Iterable[str]) -> frozenset[str]:
    """Give names and addresses in the one way of writing them in which they are compared."""
    return frozenset(map(_plain, names))


@lru_cache(maxsize=256)
def is_own(host: str, names: frozenset[str], server: str) -> bool:
    """Tell whether a `Host` field means this server: by one of these names, as loopback, or as where it came in."""
    found = _HOST.fullmatch(host)
    name = "" if found is None else _plain(found[1])
    return found is not None and (name in names or is_loopback(name) or name == _plain(server))


def is_host(text: str) -> bool:
    """Tell whether this is just a name or an address (in brackets where it has colons), as `Host` gives it."""
    found = _HOST.fullmatch(text)
    return found is not None and found[1] == text


@lru_cache(maxsize=256)
def _plain(host: str) -> str:
    """Give a name in small letters without the root's dot, and an address in the one way of writing it."""
    name = host.strip("[]").partition("%")[0].lower().removesuffix(".")
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return name
    return str(getattr(address, "ipv4_mapped", None) or address)


@lru_cache(maxsize=256)
def is_loopback(name: str) -> bool:
    """Tell whether only this machine itself can be reached by a name."""
    try:
        return name == "localhost" or ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False
