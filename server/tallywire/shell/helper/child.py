"""The server's end of the pipe to the helper's own process."""

from __future__ import annotations

import asyncio
import logging
import os
import socket
import subprocess
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from tallywire.shell.helper.parcels import HEAD, Said, parcel, unpack
from tallywire.shell.own_python import own_environment

ENVIRONMENT = {
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MALLOC_MMAP_THRESHOLD_": str(32 << 20),
    "MALLOC_TRIM_THRESHOLD_": str(64 << 20),
}
"""One thread for linear algebra: a second one would take the core that the taps need. And glibc keeps the memory of the
draws for the next forecast: to give it back and be given it again would cost a quarter of the time of one."""


class Child:
    """A process that was started, and the pipe to it."""

    def __init__(
        self, process: subprocess.Popen[bytes], reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> None:
        self._process = process
        self._reader = reader
        self._writer = writer
        self._replies: asyncio.Queue[Any] = asyncio.Queue()

    @property
    def pid(self) -> int:
        """The number of the process."""
        return self._process.pid

    async def send(self, message: object) -> None:
        """Send a message, and wait until the pipe has room for more. Raises ConnectionError when nobody reads it."""
        self._writer.write(parcel(message))
        await self._writer.drain()

    async def reply(self) -> Any:
        """Give what the process says next."""
        return await self._replies.get()

    async def listen(self) -> None:
        """Read for as long as there is a process. Raises EOFError or ConnectionError when it is gone."""
        while True:
            (length,) = HEAD.unpack(await self._reader.readexactly(HEAD.size))
            message = unpack(await self._reader.readexactly(length))
            if isinstance(message, Said):
                logging.getLogger(message.logger).log(message.level, "%s", message.text)
            else:
                self._replies.put_nowait(message)

    def end(self) -> None:
        """End the process, whatever it does: it keeps nothing that would be lost."""
        self._process.kill()
        self._process.wait()


@asynccontextmanager
async def started() -> AsyncIterator[Child]:
    """Start a process, and end it in any case. Raises OSError."""
    ours, theirs = socket.socketpair()
    with theirs:
        process = _start(theirs)
    try:
        reader, writer = await asyncio.open_unix_connection(sock=ours)
        child = Child(process, reader, writer)
        try:
            yield child
        finally:
            writer.transport.abort()
    finally:
        process.kill()
        process.wait()


def _start(pipe: socket.socket) -> subprocess.Popen[bytes]:
    """Start it in a session of its own: a Ctrl-C for the server is not one for it, which ends when the pipe does."""
    return subprocess.Popen(  # noqa: S603
        [sys.executable, "-m", "tallywire.shell.helper.process", str(os.getpid())],
        stdin=pipe.fileno(),
        stdout=subprocess.DEVNULL,
        env=own_environment() | ENVIRONMENT,
        start_new_session=True,
    )
