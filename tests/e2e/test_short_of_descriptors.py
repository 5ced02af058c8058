"""A server process with few file descriptors, a stranger who wants them all, and nobody who reads its log."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path

import pytest
from websockets.exceptions import WebSocketException

from e2e.processes import Served, practice, served_with
from e2e.sender import Sender

pytestmark = pytest.mark.slow
FEW = 64
STRANGERS = 300
LOG_MOST = 64 * 1024


@contextmanager
def _strangers(server: Served, count: int) -> Iterator[int]:
    """Connections of another address that say nothing; gives how many were tried."""
    with ExitStack() as stack:
        for _ in range(count):
            stranger = stack.enter_context(socket.socket())
            stranger.bind(("127.0.0.66", 0))
            stranger.setblocking(False)
            stranger.connect_ex(("127.0.0.1", server.port))
        yield count


def _descriptors(server: Served) -> int:
    return len(list(Path(f"/proc/{server.process.pid}/fd").iterdir()))


def _counted_amid_strangers(folder: Path, *, first: str = "") -> int:
    """Let 300 strangers come, then a table and a pad that counts five; give the size of the log."""
    log = folder / "log"
    command = ["serve", str(practice(folder)), "--data", str(folder / "data"), "--port", "0"]
    with log.open("wb") as written, served_with(*command, stderr=written, descriptors=FEW, first=first) as server:
        with _strangers(server, STRANGERS):
            assert _descriptors(server) < FEW
            with closing(Sender(server.port, "table-a", server.key("scoring table"))) as table:
                table.start_heat()
            with closing(Sender(server.port, "lane-1-a", server.key("lane pad 1"), lane=1)) as pad:
                for _ in range(5):
                    pad.say("rep_counted", lane=1)
                assert pad.watermark == 5
        server.process.send_signal(signal.SIGTERM)
        assert server.process.wait(timeout=20) == 0
    return log.stat().st_size


def test_a_pad_gets_in_at_the_descriptor_limit(tmp_path: Path) -> None:
    """64 descriptors, 300 strangers: they get some, a pad and the table come in and count, and the log stays small."""
    assert _counted_amid_strangers(tmp_path) < LOG_MOST


def test_without_places_kept_for_the_crew_it_does_not(tmp_path: Path) -> None:
    """The mutant lets strangers have every descriptor and nobody give way: then pad or table stay outside."""
    mutant = (
        "from tallywire.web.bounds import Bounds; from tallywire.web.admission import Admission; "
        "Bounds.within = lambda self, descriptors: self; Admission.give_way = lambda self: False"
    )
    with pytest.raises((AssertionError, OSError, EOFError, WebSocketException)):
        _counted_amid_strangers(tmp_path, first=mutant)


def test_a_log_that_nobody_reads_stops_nothing(tmp_path: Path) -> None:
    """Standard error is a full pipe without a reader: wrong keys are logged, facts are taken, SIGTERM ends it."""
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    with suppress(BlockingIOError):
        while True:
            os.write(writing, b"x" * 4096)
    os.set_blocking(writing, True)
    command = ["serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0"]
    with served_with(*command, stderr=writing) as server:
        for n in range(20):
            with pytest.raises(AssertionError, match="not_allowed"):
                Sender(server.port, f"table-{n}", "wrong-key")
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        assert table.watermark == 1
        table.close()
        server.process.send_signal(signal.SIGTERM)
        assert server.process.wait(timeout=20) == 0
    os.close(reading)
    os.close(writing)


def test_too_few_descriptors_are_said_at_the_start(tmp_path: Path) -> None:
    """A limit at which nobody could come in ends in one message and exit code 2."""
    command = ["serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0"]
    with (
        pytest.raises(AssertionError, match="ended with 2"),
        served_with(*command, stderr=subprocess.DEVNULL, descriptors=40),
    ):
        pass
