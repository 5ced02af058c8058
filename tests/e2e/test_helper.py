"""The helper process beside a real server: it is there once a call is asked for, and never outlives its server."""

from __future__ import annotations

import os
import signal
import time
import urllib.request
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from urllib.error import HTTPError

import pytest

from e2e.processes import Served, practice, served
from shell.test_own_process import is_there
from tallywire.shell.read_model import VIEW_NAMES

pytestmark = pytest.mark.slow


def children(pid: int) -> list[int]:
    """The processes that a process has started (proc(5))."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return [int(each) for task in tasks for each in (task / "children").read_text().split()]


def until(true: Callable[[], bool]) -> None:
    """Let others run until it is true, for a minute at most."""
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end, "it did not come about"
        os.sched_yield()


def asked(server: Served) -> int:
    """Ask for a whole call, and give the process that has made it."""
    with urllib.request.urlopen(f"{server.base}/snapshot/call", timeout=60) as answer:
        assert answer.status == 200
    [pid] = children(server.process.pid)
    return pid


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_no_process_outlives_its_server(tmp_path: Path, how: signal.Signals) -> None:
    """Nothing is left after a kill -9 or an orderly end of the server, even where it stood still."""
    with served("serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0") as server:
        assert children(server.process.pid) == [], "nobody has asked yet"
        pid = asked(server)
        os.kill(pid, signal.SIGSTOP)
        server.process.send_signal(how)
        server.process.wait(timeout=30)
        until(lambda: not is_there(pid))


def test_a_thread_does_it_where_that_is_asked_for(tmp_path: Path) -> None:
    """With `--helper thread` a call is made and no process is started."""
    options = ["--data", str(tmp_path / "data"), "--port", "0", "--helper", "thread"]
    with served("serve", str(practice(tmp_path)), *options) as server:
        with urllib.request.urlopen(f"{server.base}/snapshot/call", timeout=60) as answer:
            assert answer.status == 200
        assert children(server.process.pid) == []


def test_the_server_does_without_numpy(tmp_path: Path) -> None:
    """What works forecasts out is mapped into the helper's process alone (proc(5)), whatever view is asked for."""
    with served("serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0") as server:
        helper = asked(server)
        for view in VIEW_NAMES:
            with suppress(HTTPError), urllib.request.urlopen(f"{server.base}/snapshot/{view}", timeout=60) as answer:
                assert answer.status == 200
        mapped = {pid: "numpy" in Path(f"/proc/{pid}/maps").read_text() for pid in (server.process.pid, helper)}
    assert mapped == {server.process.pid: False, helper: True}
