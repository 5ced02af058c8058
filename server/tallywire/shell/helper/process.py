"""The helper's own process: takes facts and questions from the pipe that is its standard input, and answers there.

It ends with its server: when the pipe's other end is gone, or, where the system can tell, when the server's process is.
"""

from __future__ import annotations

import ctypes
import faulthandler
import logging
import os
import resource
import signal
import socket
import sys
import traceback
from contextlib import suppress
from queue import SimpleQueue
from threading import Lock, Thread
from typing import Any

from tallywire.shell.collection import collect_seldom
from tallywire.shell.helper.parcels import HEAD, Anew, FactRows, Ready, Reply, Said, facts_of, parcel, unpack
from tallywire.shell.helper.port import Question
from tallywire.shell.helper.second_books import SecondBooks

NICE = 5
"""Taps come first where cores are few."""
MOST_BYTES = 2 << 30
"""A process that asks for more memory ends, and is started again."""
_DIE_WITH_PARENT = 1
"""PR_SET_PDEATHSIG (prctl(2))."""


class _Pipe:
    """The pipe's end in this process."""

    def __init__(self, end: socket.socket) -> None:
        self._end = end
        self._writes = Lock()

    def messages(self, into: SimpleQueue[Any]) -> None:
        """Read for as long as there is a server; then end, whatever is being worked out."""
        try:
            with self._end.makefile("rb") as file:
                while len(head := file.read(HEAD.size)) == HEAD.size:
                    into.put(unpack(file.read(HEAD.unpack(head)[0])))
        finally:
            os._exit(0)

    def say(self, message: object) -> None:
        """Write a message."""
        with self._writes:
            self._end.sendall(parcel(message))


class _ToServer(logging.Handler):
    """Hands what is logged here to the server, which knows where its log goes."""

    def __init__(self, pipe: _Pipe) -> None:
        super().__init__(logging.WARNING)
        self._pipe = pipe

    def emit(self, record: logging.LogRecord) -> None:
        """Hand a record on."""
        self._pipe.say(Said(record.name, record.levelno, self.format(record)))


def main() -> None:
    """Answer until the server is gone."""
    faulthandler.enable()
    _stand_back(int(sys.argv[1]))
    pipe, messages = _Pipe(socket.socket(fileno=os.dup(0))), SimpleQueue[Any]()
    logging.getLogger().addHandler(_ToServer(pipe))
    Thread(target=pipe.messages, args=(messages,), daemon=True).start()
    books = SecondBooks(messages.get())
    collect_seldom()
    pipe.say(Ready())
    while True:
        _hear(messages.get(), books, pipe)


def _hear(message: object, books: SecondBooks, pipe: _Pipe) -> None:
    match message:
        case FactRows():
            books.take(facts_of(message))
        case Anew():
            books.begin_anew()
        case Question():
            pipe.say(_reply(message, books))


def _reply(question: Question, books: SecondBooks) -> Reply:
    try:
        return Reply(books.answer(question))
    except MemoryError:
        raise
    except Exception:
        # An error in one heat must not stop the others.
        return Reply(None, traceback.format_exc())


def _stand_back(server: int) -> None:
    """Let the taps come first, use no more memory than may be, and end with the server of this number."""
    os.nice(NICE)
    with suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_DATA, (MOST_BYTES, resource.getrlimit(resource.RLIMIT_DATA)[1]))
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL)
    if os.getppid() != server:
        os._exit(0)


if __name__ == "__main__":
    main()
