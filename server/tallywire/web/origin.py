"""Which pages may open the wire: a browser names its page's origin, and it must be ours or an allowed one."""

from __future__ import annotations

from collections.abc import Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers


def origin_allowed(headers: Headers, allowed: Collection[str]) -> bool:
    """Check `Origin` (RFC 6455 §10.2) against `Host` and the list; a program that sends none is let in.

    The schemes are not compared, because behind a TLS proxy our own scheme looks like http.
    """
    origins = headers.getlist("origin")
    if not origins:
        return True
    if len(origins) > 1:
        return False
    origin = origins[0].lower()
    return origin in {each.lower().rstrip("/") for each in allowed} or _same_host(origin, headers.get("host", ""))


def is_origin(text: str) -> bool:
    """Tell whether a browser could name a page's origin so (RFC 6454 §6.2): scheme, host and port, nothing behind."""
    try:
        parts = urlsplit(text)
        is_bare = not (parts.path.strip("/") or parts.query or parts.fragment or parts.username)
        return parts.scheme in ("http", "https") and is_bare and _host(parts.netloc, parts.scheme)[0] != "?"
    except ValueError:
        return False


def _same_host(origin: str, host: str) -> bool:
    try:
        parts = urlsplit(origin)
        return parts.scheme in ("http", "https") and _host(parts.netloc, parts.scheme) == _host(host, parts.scheme)
    except ValueError:
        return False


def _host(netloc: str, scheme: str) -> tuple[str, int]:
    parts = urlsplit(f"//{netloc}")
    return parts.hostname or "?", parts.port or {"http": 80, "https": 443}[scheme]
