"""The listening socket: it accepts connections a few at a time, and lets in those that the admission allows.

asyncio's own server accepts as many as its backlog holds in one turn of the loop, and when descriptors run out it logs
every failure. Here, connected pads have their turn in between, and strangers give way.
"""

from __future__ import annotations

import asyncio
import errno
import logging
import socket
import struct
from collections.abc import Callable
from functools import partial
from ssl import SSLContext
from typing import Any

from tallywire.web.admission import Admission, Visit
from tallywire.wire.allowance import Allowance

BACKLOG = 128
"""How many connections the kernel keeps waiting: enough for all pads of a hall that come back at once."""
ACCEPTS_A_TURN = 32
HANDSHAKE_S = 10.0
_REST_S = 0.05
_SHORT = (errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM)
_RESET_ON_CLOSE = struct.pack("ii", 1, 0)
"""SO_LINGER with no time (socket(7)): nothing of a connection that is turned away stays behind."""
_log = logging.getLogger(__name__)


class Door:
    """A replacement for asyncio's server: uvicorn uses only its `close` and `wait_closed`."""

    def __init__(
        self,
        listener: socket.socket,
        admission: Admission,
        *,
        make_protocol: Callable[[Visit], asyncio.Protocol],
        tls: SSLContext | None,
    ) -> None:
        self._listener = listener
        self._admission = admission
        self._make_protocol = make_protocol
        self._tls = tls
        self._loop = asyncio.get_running_loop()
        self._sockets: dict[Visit, socket.socket] = {}
        self._entering: set[asyncio.Task[None]] = set()
        self._timer: asyncio.TimerHandle | None = None
        self._notes = Allowance(rate=0.2, burst=1)
        self._is_open = False

    def open(self) -> None:
        """Begin to listen."""
        self._listener.setblocking(False)
        self._listener.listen(BACKLOG)
        self._is_open = True
        self._watch()

    def close(self) -> None:
        """Accept nobody any more, and turn away those who wait."""
        if not self._is_open:
            return
        self._is_open = False
        self._loop.remove_reader(self._listener)
        if self._timer is not None:
            self._timer.cancel()
        for visit in tuple(self._sockets):
            self._turn_away(visit)
        for task in self._entering:
            task.cancel()

    async def wait_closed(self) -> None:
        """Wait until no connection is half-way in."""
        await asyncio.gather(*self._entering, return_exceptions=True)

    def _watch(self) -> None:
        if self._is_open:
            self._loop.add_reader(self._listener, self._accept)

    def _accept(self) -> None:
        for _ in range(ACCEPTS_A_TURN):
            try:
                connection, peer = self._listener.accept()
            except (BlockingIOError, InterruptedError, ConnectionAbortedError):
                break
            except OSError as exc:
                self._rest(exc)
                break
            self._arrived(connection, str(peer[0]))
        self._let_in()

    def _arrived(self, connection: socket.socket, host: str) -> None:
        visit = self._admission.arrive(host, lambda: None)
        if visit is None:
            _drop(connection)
            if self._notes.spend(self._loop.time()):
                _log.warning("connections of %s were turned away: too many wait", host)
            return
        visit.cut = partial(self._turn_away, visit)
        self._sockets[visit] = connection

    def _turn_away(self, visit: Visit) -> None:
        visit.leave()
        connection = self._sockets.pop(visit, None)
        if connection is not None:
            _drop(connection)

    def _let_in(self) -> None:
        if not self._is_open:
            return
        while (visit := self._admission.next(self._loop.time())) is not None:
            self._begin_to_enter(visit, self._sockets.pop(visit))
        wait_s = self._admission.wait_s(self._loop.time())
        if self._timer is not None:
            self._timer.cancel()
        self._timer = None if wait_s is None else self._loop.call_later(wait_s, self._let_in)

    def _begin_to_enter(self, visit: Visit, connection: socket.socket) -> None:
        task = self._loop.create_task(self._enter(visit, connection))
        visit.cut = partial(_cancel, task)
        self._entering.add(task)
        task.add_done_callback(partial(self._entered, visit, connection))

    async def _enter(self, visit: Visit, connection: socket.socket) -> None:
        """Make the connection's protocol, which from then on knows how to cut it and when it is over."""
        connection.setblocking(False)
        patience: dict[str, Any] = {} if self._tls is None else {"ssl_handshake_timeout": HANDSHAKE_S}
        make = partial(self._make_protocol, visit)
        await self._loop.connect_accepted_socket(make, connection, ssl=self._tls, **patience)

    def _entered(self, visit: Visit, connection: socket.socket, task: asyncio.Task[None]) -> None:
        self._entering.discard(task)
        if task.cancelled() or task.exception() is not None:
            visit.leave()
            connection.close()

    def _rest(self, exc: OSError) -> None:
        """Cut a stranger's connection because descriptors are short, and look again a little later."""
        if exc.errno not in _SHORT:
            _log.warning("cannot take a connection (%s)", exc.strerror)
        elif self._admission.give_way():
            _log.warning("cannot take a connection (%s): a stranger's was cut", exc.strerror)
        else:
            _log.warning("cannot take a connection (%s): expected more open files, see ulimit -n", exc.strerror)
        self._loop.remove_reader(self._listener)
        self._loop.call_later(_REST_S, self._watch)


def _cancel(task: asyncio.Task[None]) -> None:
    task.cancel()


def _drop(connection: socket.socket) -> None:
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET_ON_CLOSE)
    connection.close()
