"""Where a client's frames go: a transport that is written to directly, without waiting."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol


class TransportListener(Protocol):
    """Who wants to know how a transport is doing. All three may be called from inside a write."""

    def paused(self) -> None:
        """The client reads too slowly: more than the bound is waiting for it."""
        ...

    def resumed(self) -> None:
        """What was waiting has gone out."""
        ...

    def closed(self) -> None:
        """Nothing can be sent any more."""
        ...


class Transport(Protocol):
    """One client's way out. After the close nothing is sent, and writing is harmless."""

    @property
    def is_open(self) -> bool:
        """True from the accepted handshake until a close begins, from either side."""
        ...

    @property
    def write(self) -> Callable[[bytes], object]:
        """A function that sends a whole websocket frame, as made by `text_frame`; the fastest way there is.

        Whoever keeps it must let go of it when the listener hears of a pause or the close.
        """
        ...

    def say(self, payload: bytes) -> None:
        """Send text, unless the transport is closed."""
        ...

    def listen(self, listener: TransportListener) -> None:
        """Tell this listener, and no other, from now on."""
        ...

    async def ready(self) -> None:
        """Wait until less than the bound is waiting to go out, or the transport is closed."""
        ...

    async def flush(self) -> None:
        """Wait until everything said is on its way, or the transport is closed: then the connection may be closed."""
        ...

    def abort(self) -> None:
        """Cut the connection at once; what waits is lost."""
        ...
