"""Edges: servers that follow the stream, show everything, and hand the crew on to the writer."""

from __future__ import annotations

import json
import time
import urllib.error
import urllib.request
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from e2e.edges import Edge, edge, until_frame
from e2e.processes import Served, practice, served
from e2e.test_full_disk import REP, Pad, Small
from e2e.test_take_over import until
from shell.cut_link import cut_link
from shell.redis_servers import redis_server
from tallywire.cli.main import main

pytestmark = pytest.mark.slow


def done(frame: dict[str, Any]) -> int:
    """Give the reps of the first lane."""
    return int(frame["lanes"]["1"]["done"])


def pad_at(port: int, server: Served, stack: ExitStack, name: str, page: str, **who: Any) -> Pad:
    """Connect with a key of the writer."""
    key = server.key(page)
    return stack.enter_context(closing(Pad(Small(server.process, port, {}, Path()), name, key, **who)))


def test_edges_show_what_the_writer_has_and_hand_the_crew_on(tmp_path: Path) -> None:
    """A tap at one edge is durable at the writer and shown at the other; an edge that is cut off keeps its picture with
    its age, and catches up.
    """
    with redis_server(tmp_path / "redis") as redis, cut_link(redis.port) as link, ExitStack() as stack:
        arguments = ("--data", str(tmp_path / "data"), "--port", "0", "--redis", redis.url)
        writer = stack.enter_context(served("serve", str(practice(tmp_path)), *arguments))
        one, other = stack.enter_context(edge(redis.port)), stack.enter_context(edge(link.port))
        table = pad_at(one.port, writer, stack, "table-a", "scoring table", role="table")
        table.send(1, fact="heat_started", unix_ms=time.time_ns() // 1_000_000)
        table.hear("acknowledged")
        pad = pad_at(one.port, writer, stack, "lane-1-a", "lane pad 1", role="lane", lane=1)
        pad.send(7, **REP)
        assert pad.hear("acknowledged", lambda said: bool(said["watermark"] == 7))["tally"]["done"] == 7
        # The other views also say how long ago things were, by the time they are asked.
        for view in ("heat", "result", "event"):
            seen = until_frame(other.port, lambda frame: done(frame) == 7 and "behind_ms" not in frame, view)
            assert seen == until_frame(writer.port, lambda _frame: True, view)
        until(lambda: other.get("/health")["journal"] == {"lines": 8, "behind_ms": 0})
        with connect(f"ws://127.0.0.1:{other.port}/wire", compression=None) as watcher:
            watcher.send(json.dumps({"type": "watch", "view": "heat", "heat": "h1"}))
            assert done(json.loads(watcher.recv(timeout=30))["frame"]) == 7
            link.swallow()
            pad.send(1, **REP)
            pad.hear("acknowledged", lambda said: bool(said["watermark"] == 8))
            while not json.loads(watcher.recv(timeout=30))["patch"].get("behind_ms"):
                pass
            until(lambda: other.get("/health")["journal"]["behind_ms"] >= 1000)
            assert done(other.get("/snapshot/heat?heat=h1")["frame"]) == 7, "the picture is kept"
            link.heal()
            until_frame(other.port, lambda frame: done(frame) == 8 and "behind_ms" not in frame)
        until(lambda: other.get("/health")["journal"] == {"lines": 9, "behind_ms": 0})
        check_strangers(one, writer)


def check_strangers(edge: Edge, writer: Served) -> None:
    """Check that a wrong key opens nothing at an edge, and that a writer that is gone is said."""
    with connect(f"ws://127.0.0.1:{edge.port}/wire", compression=None) as stranger:
        hello = {"type": "hello", "role": "lane", "lane": 1, "sender": "lane-1-b", "key": "wrong"}
        stranger.send(json.dumps(hello))
        assert json.loads(stranger.recv(timeout=30))["code"] == "not_allowed"
    for path in ("/snapshot/table?heat=h1", "/links", "/recording"):
        with pytest.raises(urllib.error.HTTPError, match="401"):
            edge.get(path)
    writer.kill()
    with connect(f"ws://127.0.0.1:{edge.port}/wire", compression=None) as late:
        late.send(json.dumps({**hello, "key": writer.key("lane pad 1")}))
        with pytest.raises(ConnectionClosed) as closed:
            late.recv(timeout=30)
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1013
    assert edge.get("/health")["status"] == "ok"


def test_an_edge_without_a_writer_says_what_to_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Before the first start of a writer there is no competition to show."""
    with redis_server(tmp_path / "redis") as redis:
        assert main(["edge", "--redis", redis.url, "--port", "0"]) == 2
    assert "start it first, with tallywire serve" in capsys.readouterr().err
