"""Outlets of real processes: at an edge the same bytes under the same tag, and pushes from a rehearsal."""

from __future__ import annotations

import json
import subprocess
import time
import urllib.error
import urllib.request
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from e2e.edges import edge, until_frame
from e2e.processes import practice, served, tallywire
from e2e.test_edge import pad_at
from e2e.test_full_disk import REP
from shell.redis_servers import redis_server
from tallywire.core.outlets.columns import ROW_KINDS
from web.test_pushes import receiver

pytestmark = pytest.mark.slow
ROWS = "/v1/heats/h1/heat/rows.json"


def get(port: int, path: str, *, had: str = "") -> tuple[int, str, bytes]:
    """Ask, and give the status, the tag and the body."""
    asked = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers={"If-None-Match": had} if had else {})
    try:
        with urllib.request.urlopen(asked, timeout=30) as answer:
            return answer.status, answer.headers["ETag"], answer.read()
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.headers.get("ETag", ""), refusal.read()


def test_an_edge_hands_out_the_same(tmp_path: Path) -> None:
    """What a client has from one server is its newest at another: the tags are those of the bytes, everywhere."""
    with redis_server(tmp_path / "redis") as redis, ExitStack() as stack:
        arguments = ("--data", str(tmp_path / "data"), "--port", "0", "--redis", redis.url)
        writer = stack.enter_context(served("serve", str(practice(tmp_path)), *arguments))
        other = stack.enter_context(edge(redis.port))
        table = pad_at(writer.port, writer, stack, "table-a", "scoring table", role="table")
        table.send(1, fact="heat_started", unix_ms=time.time_ns() // 1_000_000)
        table.hear("acknowledged")
        pad = pad_at(other.port, writer, stack, "lane-1-a", "lane pad 1", role="lane", lane=1)
        pad.send(7, **REP)
        pad.hear("acknowledged", lambda said: bool(said["watermark"] == 7))
        for port in (writer.port, other.port):
            until_frame(port, lambda frame: frame["lanes"]["1"]["done"] == 7 and "behind_ms" not in frame)
        for form in ("frame.json", "rows.json", "rows.csv"):
            path = f"/v1/heats/h1/heat/{form}"
            status, tag, body = get(writer.port, path)
            assert (status, get(other.port, path)) == (200, (200, tag, body))
            assert get(other.port, path, had=tag)[0] == 304
        assert get(other.port, "/v1/heats/h1/table/rows.json")[0] == 401
        assert json.loads(get(other.port, ROWS)[2])[0]["done"] == 7


def test_a_rehearsal_pushes_what_it_plays() -> None:
    """`rehearse --push` delivers rows that say they are of a rehearsal, more of them as the heat goes on; the program
    says to whom it pushes, without the path, and where the key is."""
    with receiver() as (url, got):
        options = ("--port", "0", "--speed", "20", "--from", "8:00", "--push", "floor/heat/rows.json", url)
        program = subprocess.Popen(tallywire("rehearse", *options), stdout=subprocess.PIPE, text=True)
        try:
            assert program.stdout is not None
            said = ""
            while "Ctrl-C" not in said:
                said += program.stdout.readline()
            deadline = time.monotonic() + 30
            while len(got) < 5 and time.monotonic() < deadline:
                time.sleep(0.01)
        finally:
            program.terminate()
            program.communicate(timeout=20)
    assert "floor/heat/rows.json is pushed to http://127.0.0.1" in said
    assert "/in?a=1" not in said
    assert "push-key" in said
    rows: list[list[dict[str, Any]]] = [json.loads(body) for _, _, body in got]
    assert len(rows) >= 5
    names = [column.name for column in ROW_KINDS["heat"].columns]
    assert all(list(row) == names and row["mode"] == "rehearsal" for each in rows for row in each)
    counts = [sum(row["done"] for row in each) for each in rows]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]
