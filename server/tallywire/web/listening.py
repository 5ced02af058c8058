"""The socket that a server listens on, and the addresses by which it is reached."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager

from tallywire.core.errors import TallywireError
from tallywire.web.addresses import own_addresses
from tallywire.web.settings import Settings


@contextmanager
def listening_socket(settings: Settings) -> Iterator[socket.socket]:
    """Bind the socket that a server listens on. Raises TallywireError when it cannot."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    # asyncio switches Nagle's algorithm (RFC 9293 §3.7.4) off for sockets that name their protocol. Otherwise a body
    # waits until its head is confirmed, which takes up to 40 ms, and a client's second view waits for its first.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((settings.host, settings.port))
    except OSError as exc:
        listener.close()
        raise TallywireError(
            f"cannot listen on {settings.host} port {settings.port} ({exc.strerror}): choose another with --port"
        ) from exc
    try:
        yield listener
    finally:
        listener.close()


def addresses_of(listener: socket.socket, settings: Settings) -> list[str]:
    """Give the addresses by which other devices reach the server, the best one first."""
    if settings.public_url is not None:
        return [settings.public_url.rstrip("/")]
    scheme = "http" if settings.tls is None else "https"
    return own_addresses(settings.host, listener.getsockname()[1], scheme=scheme)


def address_of(listener: socket.socket, settings: Settings) -> str:
    """Give the address of the socket itself."""
    host, port = listener.getsockname()[:2]
    scheme = "http" if settings.tls is None else "https"
    return f"{scheme}://[{host}]:{port}" if ":" in host else f"{scheme}://{host}:{port}"
