"""A link between a writer and its Redis server that a test cuts: by breaking it off, or by letting nothing through."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class CutLink:
    """Listens on a port of its own and hands everything on to `target`, unless it is cut."""

    def __init__(self, target: int) -> None:
        self.target = target
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._flows = threading.Event()
        self._flows.set()
        self._refuses = False
        self._open: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    def break_off(self) -> None:
        """Close every connection, and each new one, as a cable does whose ends notice."""
        self._refuses = True
        self._close_all()

    def swallow(self) -> None:
        """Let nothing through, neither data nor an end."""
        self._flows.clear()

    def heal(self) -> None:
        """Let new connections through again; those that were open during the cut are gone."""
        self._close_all()
        self._refuses = False
        self._flows.set()

    def close(self) -> None:
        """Stop listening."""
        self._listener.close()
        self.heal()

    def passed(self, data: bytes) -> None:
        """Hear what goes through, in either direction; a subclass may count."""

    def _close_all(self) -> None:
        for each in self._open:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
            each.close()
        self._open.clear()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                try:
                    far = socket.create_connection(("127.0.0.1", self.target))
                except OSError:
                    near.close()
                    continue
                self._open += [near, far]
                if self._refuses:
                    self._close_all()
                    continue
                for one, other in ((near, far), (far, near)):
                    threading.Thread(target=self._pump, args=(one, other), daemon=True).start()

    def _pump(self, source: socket.socket, sink: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(65_536):
                self._flows.wait()
                self.passed(data)
                sink.sendall(data)
        for each in (source, sink):
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)


@contextmanager
def cut_link(target: int) -> Iterator[CutLink]:
    """Give a link to a port of this machine."""
    link = CutLink(target)
    try:
        yield link
    finally:
        link.close()
