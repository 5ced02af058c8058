"""Edge processes for the end-to-end tests, and what they show."""

from __future__ import annotations

import json
import re
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from e2e.processes import tallywire

PATIENCE_S = 60.0


@dataclass(frozen=True, slots=True)
class Edge:
    """An edge process and its port."""

    process: subprocess.Popen[str]
    port: int

    def get(self, path: str) -> dict[str, Any]:
        """Ask for something."""
        return asked(self.port, path)


def asked(port: int, path: str) -> dict[str, Any]:
    """Ask a server of this machine for something."""
    with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=30) as answer:
        said: dict[str, Any] = json.loads(answer.read())
        return said


@contextmanager
def edge(redis_port: int, *more: str) -> Iterator[Edge]:
    """Run an edge."""
    command = tallywire("edge", "--redis", f"redis://127.0.0.1:{redis_port}/0", "--port", "0", *more)
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            found = re.search(r"an edge, at http://127\.0\.0\.1:(\d+)", process.stdout.readline())
            assert found is not None
            yield Edge(process, int(found[1]))
        finally:
            process.terminate()


def until_frame(port: int, is_right: Any, view: str = "heat") -> dict[str, Any]:
    """Ask for a view's frame until it is right."""
    deadline = time.monotonic() + PATIENCE_S
    while True:
        frame: dict[str, Any] = asked(port, f"/snapshot/{view}?heat=h1")["frame"]
        if is_right(frame):
            return frame
        assert time.monotonic() < deadline, frame
        time.sleep(0.02)
