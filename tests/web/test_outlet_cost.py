"""What a poller costs: far less than making what it asks for, which is done once for all of them."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import orjson
import pytest

from core.samples import Pad, competition
from shell.stage import sample_links
from tallywire.core.outlets.rows import flat_rows
from tallywire.shell.books import Change
from tallywire.shell.clock import SystemClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.web.app import create_app
from tallywire.web.settings import Settings

POLLS = 300


@pytest.mark.alone
async def test_a_poll_costs_less_than_a_third_of_making_its_answer() -> None:
    """A conditional request that finds nothing new, through the whole application, against making frame and rows of
    twenty lanes: the ratio of processor times, side by side, the better of three tries."""
    live = LiveCompetition(
        competition(lanes=20), journal=MemoryJournal(), clock=SystemClock(), links=sample_links(), options=RunOptions()
    )
    live.replay()
    change = Change()
    for number in range(1, 21):
        live.books.add(Pad("starter").start() if number == 1 else Pad(f"lane-{number}-a", number).reps(1000), change)
    live.show(change, live.books.snapshot())
    app = create_app(live, Settings(data=Path("unused")))
    path = b"/v1/heats/heat/heat/rows.json"
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {"type": "http.request"}

    def scope(had: bytes) -> dict[str, Any]:
        head = [(b"host", b"127.0.0.1:8400"), (b"if-none-match", had)]
        of_server = {"server": ("127.0.0.1", 8400), "client": ("127.0.0.1", 1), "scheme": "http", "root_path": ""}
        of_path = {"method": "GET", "path": path.decode(), "raw_path": path, "query_string": b""}
        return {"type": "http", "http_version": "1.1", "headers": head, "state": {}, **of_server, **of_path}

    await app(scope(b""), receive, send)
    tag = dict(sent[0]["headers"])[b"etag"]
    ratios = []
    for _ in range(3):
        sent.clear()
        began = time.thread_time()
        for _ in range(POLLS):
            await app(scope(tag), receive, send)
        polled = time.thread_time() - began
        assert {message["status"] for message in sent[::2]} == {304}
        began = time.thread_time()
        for _ in range(POLLS):
            frame = live.read_model.frame("heat", "heat", live.read_model.snapshot())
            orjson.dumps(flat_rows(frame))
        ratios.append(polled / (time.thread_time() - began))
    live.close()
    print(f"\na poll costs {min(ratios):.0%} of making its answer")
    assert min(ratios) < 1 / 3
