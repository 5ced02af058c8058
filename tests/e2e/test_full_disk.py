"""A server on a disk that fills: a small file system in a name space of its own (Linux, `unshare -Urm`)."""

from __future__ import annotations

import json
import re
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import ClientConnection, connect

from e2e.processes import practice, tallywire

pytestmark = pytest.mark.slow
SECOND = 1.0
"""So soon are pads and table to know."""


def in_own_space(folder: Path, mount: str, *command: str) -> list[str]:
    """Give the command line that mounts something at a folder, for the command alone, and runs it."""
    return ["unshare", "-Urm", "sh", "-c", f'{mount} "$0" && exec "$@"', str(folder), *command]


def can_mount(folder: Path) -> bool:
    """Tell whether this system lets a user mount in a name space of its own."""
    try:
        tried = in_own_space(folder, "mount -t tmpfs -o size=1m none", "true")
        return subprocess.run(tried, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


@pytest.fixture
def disk(tmp_path: Path) -> Path:
    """Give a folder to mount at."""
    place = tmp_path / "disk"
    place.mkdir()
    if not can_mount(place):
        pytest.skip("found no right to mount in a name space of one's own")
    return place


@dataclass(frozen=True, slots=True)
class Small:
    """A server whose data is on a small disk, which the test sees at `inside`."""

    process: subprocess.Popen[str]
    port: int
    keys: dict[str, str]
    inside: Path


@contextmanager
def served_on(disk: Path, competition: Path, *, megabytes: int) -> Iterator[Small]:
    """Serve with the data on a file system of this size."""
    mount = f"mount -t tmpfs -o size={megabytes}m none"
    command = in_own_space(disk, mount, *tallywire("serve", str(competition), "--data", str(disk), "--port", "0"))
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            keys: dict[str, str] = {}
            port = 0
            for line in process.stdout:
                if found := re.match(r"  (.+?)\s{2,}http://127\.0\.0\.1:(\d+)\S*#key=(\S+)", line):
                    keys[found[1].strip()], port = found[3], int(found[2])
                if line.startswith("stop with"):
                    break
            yield Small(process, port, keys, Path(f"/proc/{process.pid}/root{disk}"))
        finally:
            if process.poll() is None:
                process.kill()


class Pad:
    """A sender that says everything it hears, with the time."""

    def __init__(self, server: Small, name: str, key: str, **who: Any) -> None:
        self.name, self.sent = name, 0
        self._open = ExitStack()
        connection = connect(f"ws://127.0.0.1:{server.port}/wire", compression=None)
        self.socket: ClientConnection = self._open.enter_context(connection)
        self.socket.send(json.dumps({"type": "hello", "sender": name, "key": key, **who}))
        self.watermark = int(self.hear("welcome")["watermark"])

    def close(self) -> None:
        """Close the connection."""
        self._open.close()

    def send(self, count: int, **fields: Any) -> None:
        """Send facts without waiting."""
        facts = []
        for _ in range(count):
            self.sent += 1
            fact = {"id": f"{self.name}.{self.sent}", "heat": "h1", "at_ms": self.sent, "sender": self.name}
            facts.append({**fact, "sequence": self.sent, **fields})
        self.socket.send(json.dumps({"type": "facts", "facts": facts}))

    def hear(self, kind: str, is_right: Callable[[dict[str, Any]], bool] = lambda _message: True) -> dict[str, Any]:
        """Take messages until one of this kind is right."""
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline:
            message: dict[str, Any] = json.loads(self.socket.recv(timeout=30))
            if message["type"] == "acknowledged":
                self.watermark = message["watermark"]
            if message["type"] == kind and is_right(message):
                return message
        raise AssertionError(f"found no {kind}")


def fill(folder: Path, name: str) -> Path:
    """Fill the disk to its last page."""
    place = folder / name
    with place.open("wb", buffering=0) as file:
        for size in (1 << 20, 1 << 16, 1 << 12):
            with suppress(OSError):
                while True:
                    file.write(b"\1" * size)
    return place


def started(server: Small, stack: ExitStack) -> Pad:
    """The table, with the heat started: until then no lane counts."""
    table = stack.enter_context(closing(Pad(server, "table-a", server.keys["scoring table"], role="table")))
    table.send(1, fact="heat_started", unix_ms=time.time_ns() // 1_000_000)
    table.hear("acknowledged")
    return table


REP = {"fact": "rep_counted", "lane": 1}


def until_held(pad: Pad, server: Small) -> float:
    """Send until the server says that it holds, the reserve eaten as well; give how long being told took."""
    while True:
        pad.send(60, **REP)
        began = time.monotonic()
        heard: dict[str, Any] = json.loads(pad.socket.recv(timeout=30))
        if heard["type"] == "acknowledged":
            pad.watermark = heard["watermark"]
        elif heard["type"] == "storage" and heard["state"] == "low":
            fill(server.inside, "more")
        elif heard["type"] == "storage" and heard["state"] == "held":
            return time.monotonic() - began


def test_a_full_disk_holds_pads_and_table_until_there_is_room(tmp_path: Path, disk: Path) -> None:
    """Within a second all senders know; nothing acknowledged is lost; when there is room it goes on by itself."""
    with served_on(disk, practice(tmp_path), megabytes=32) as server, ExitStack() as stack:
        table = started(server, stack)
        pad = stack.enter_context(closing(Pad(server, "lane-1-a", server.keys["lane pad 1"], role="lane", lane=1)))
        pad.send(1, **REP)
        pad.hear("acknowledged")
        filling = fill(server.inside, "filling")
        assert until_held(pad, server) < SECOND
        assert "disk is full" in table.hear("storage", lambda said: said["state"] == "held")["message"]
        late = stack.enter_context(closing(Pad(server, "lane-2-a", server.keys["lane pad 2"], role="lane", lane=2)))
        assert late.hear("storage")["state"] == "held"
        acknowledged = pad.watermark
        assert acknowledged < pad.sent
        filling.unlink()
        pad.hear("acknowledged", lambda said: bool(said["watermark"] == pad.sent))
        assert sequences(server) == list(range(1, pad.sent + 1))


def sequences(server: Small) -> list[int]:
    """Give the pad's sequences in the journal, as the server itself gives it out."""
    address = f"http://127.0.0.1:{server.port}/recording"
    asked = urllib.request.Request(address, headers={"Authorization": f"Bearer {server.keys['scoring table']}"})
    with urllib.request.urlopen(asked, timeout=30) as answer:
        facts = map(json.loads, answer.read().splitlines())
    return [fact["sequence"] for fact in facts if fact["sender"] == "lane-1-a"]


def test_a_server_on_a_full_disk_stops_when_told_and_starts_again(tmp_path: Path, disk: Path) -> None:
    """SIGTERM ends a server that holds, with one message and the journal's exit code."""
    with served_on(disk, practice(tmp_path), megabytes=32) as server, ExitStack() as stack:
        started(server, stack)
        pad = stack.enter_context(closing(Pad(server, "lane-1-a", server.keys["lane pad 1"], role="lane", lane=1)))
        fill(server.inside, "filling")
        until_held(pad, server)
        server.process.terminate()
        _, said = server.process.communicate(timeout=30)
        assert server.process.returncode == 3
        assert "Traceback" not in said.rpartition("tallywire: ")[2]
        assert "found no room on the disk of the journal" in said


def test_a_read_only_disk_is_said_plainly(tmp_path: Path, disk: Path) -> None:
    """A data folder that may not be written ends in one message and the journal's exit code."""
    mount = "mount -t tmpfs -o ro none"
    command = in_own_space(
        disk, mount, *tallywire("serve", str(practice(tmp_path)), "--data", str(disk), "--port", "0")
    )
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 3
    assert done.stderr.startswith("tallywire: cannot make ")
    assert "Read-only file system" in done.stderr
    assert done.stderr.count("\n") == 1
