"""uvicorn with a door of our own: what it is set to, when it listens, and how it stops."""

from __future__ import annotations

import asyncio
import signal
import socket
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import cast

import uvicorn
from starlette.applications import Starlette

from tallywire.web.admission import VISIT, Admission, Visit
from tallywire.web.door import Door
from tallywire.web.http_protocol import BoundedHttp
from tallywire.web.polls import Polls
from tallywire.web.settings import Settings
from tallywire.web.transport import SocketProtocol
from tallywire.wire.messages import MESSAGE_LIMIT

PING_S = 20.0
STOP_S = 3
_SWITCH_S = 0.0005
_DATE_S = 1.0
"""An answer's date has no fractions of a second (RFC 9110 §5.6.7)."""
_WHOLE_SECOND = 0
"""The number of uvicorn's looks at which it makes the date anew."""
_SIGNALS = (signal.SIGINT, signal.SIGTERM)


def uvicorn_config(app: Starlette, settings: Settings) -> uvicorn.Config:
    """Give uvicorn's settings for an application of ours."""
    # A loop that computes would keep the journal's thread waiting for 5 ms at a time (see SqliteJournal).
    sys.setswitchinterval(_SWITCH_S)
    return uvicorn.Config(
        app,
        ws=SocketProtocol,
        ws_max_size=MESSAGE_LIMIT,
        ws_ping_interval=PING_S,
        ws_ping_timeout=PING_S,
        ws_per_message_deflate=False,
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=STOP_S,
        ssl_certfile=settings.tls.certificate if settings.tls else None,
        ssl_keyfile=settings.tls.private_key if settings.tls else None,
    )


class UvicornServer(uvicorn.Server):
    """uvicorn's server, which also tells when it listens, and leaves the exit code to the caller."""

    def __init__(
        self,
        config: uvicorn.Config,
        admission: Admission,
        *,
        signals: bool,
        leaving: Callable[[], None],
        polls: Polls | None = None,
    ) -> None:
        super().__init__(config)
        self._leaving = leaving
        self._polls = polls
        self._admission = admission
        self.listening = asyncio.Event()
        self._left = asyncio.Event()
        self._signals = _SIGNALS if signals else ()

    def leave(self) -> None:
        """Stop gracefully; asked twice, at once."""
        self.force_exit = self.should_exit
        self.should_exit = True
        self._left.set()
        self._leaving()

    async def main_loop(self) -> None:
        """Keep the date of answers right until it is asked to leave. uvicorn wakes ten times a second for that."""
        while not await self.on_tick(_WHOLE_SECOND):
            with suppress(TimeoutError):
                await asyncio.wait_for(self._left.wait(), _DATE_S)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, at a door of our own instead of uvicorn's."""
        await self.lifespan.startup()
        [listener] = sockets or []
        door = Door(listener, self._admission, make_protocol=self._protocol, tls=self.config.ssl)
        door.open()
        self.servers = [cast(asyncio.Server, door)]
        self.started = True
        self.listening.set()

    def _protocol(self, visit: Visit) -> asyncio.Protocol:
        return BoundedHttp(self.config, self.server_state, {VISIT: visit}, polls=self._polls)

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop on a signal. Unlike uvicorn's own, it does not raise it again: the journal has to be closed first."""
        loop = asyncio.get_running_loop()
        for each in self._signals:
            loop.add_signal_handler(each, self.leave)
        try:
            yield
        finally:
            for each in self._signals:
                loop.remove_signal_handler(each)
