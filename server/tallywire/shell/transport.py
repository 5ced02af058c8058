"""Where a client's frames go: a transport that is written to directly, without waiting."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol


class TransportListener(Protocol):
    """The one that is told how a transport is doing. All three methods may be called from inside a write."""

    def paused(self) -> None:
        """The client reads too slowly: more bytes than the bound are waiting for it."""
        ...

    def resumed(self) -> None:
        """Everything that was waiting has gone out."""
        ...

    def closed(self) -> None:
        """Nothing can be sent any more."""
        ...


class Transport(Protocol):
    """The way to one client. After the close nothing is sent, and writing is harmless."""

    @property
    def is_open(self) -> bool:
        """True from the accepted handshake until a close begins, from either side."""
        ...

    @property
    def write(self) -> Callable[[bytes], object]:
        """A function that sends a whole websocket frame, as made by `text_frame`; the fastest way there is.

        A caller that keeps this function must drop it when the listener is told of a pause or of the close.
        """
        ...

    @property
    def write_all(self) -> Callable[[Sequence[bytes]], object]:
        """A function that sends several such frames, as one piece where that is possible."""
        ...

    def say(self, payload: bytes) -> None:
        """Send text, unless the transport is closed."""
        ...

    def listen(self, listener: TransportListener) -> None:
        """From now on, tell this listener and no other."""
        ...

    @property
    def is_ready(self) -> bool:
        """True while less than the bound is waiting to go out."""
        ...

    async def ready(self) -> None:
        """Wait until less than the bound is waiting to go out, or the transport is closed."""
        ...

    async def flush(self) -> None:
        """Wait until everything said is on its way, or the transport is closed; then the connection may be closed."""
        ...

    def abort(self) -> None:
        """Cut the connection at once; everything that waits is lost."""
        ...
