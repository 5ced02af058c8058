"""What pollers and event streams cost a server whose heat is tapped, as a share of one core.

What the taps cost without any of them is measured right before, in the same process, and taken off. Each client comes
from one of ten addresses of this machine, as from ten machines. Beside it stands an application that does nothing else,
on the same server and polled by as many: less an application in Python cannot cost there.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tallywire.core.errors import TallywireError
from tallywire.measure.figures import Cell, FigureTable, Goal
from tallywire.measure.machine import worked_ms
from tallywire.measure.peers import POLLED_CHANGES_A_SECOND
from tallywire.measure.scale import Scale
from tallywire.measure.turns import in_turn
from tallywire.measure.ways import Way, bare_polls, ours

CLIENTS = 50
POLL_S = 0.1
_ADDRESSES = 10
_SETTLE_S = 0.5
_BOUND = 15
_ANSWER_BYTES = 8_500
"""About as long as the rows of ten lanes."""
_ROWS, _EVENTS = "/v1/heats/floor/heat/rows.json", "/v1/heats/floor/heat/frame.events"


@dataclass(slots=True)
class Answers:
    """What the clients were sent."""

    whole: int = 0
    unchanged: int = 0
    events: int = 0


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Let pollers, streams and both come and go in turn."""
    clients, seconds = scale.sized(CLIENTS, quick=3), scale.sized(3.0, quick=0.3)
    pollers = f"{clients} pollers, ten times a second"
    kinds = {
        pollers: (clients, 0),
        f"{clients} event streams": (0, clients),
        "both": (clients, clients),
    }
    seen, nothing_else = {name: Answers() for name in kinds}, f"{clients} pollers of a bare application"
    with (
        tempfile.TemporaryDirectory() as folder,
        ours(Path(folder), taps=5_000, guests=4 * clients) as way,
        bare_polls(_ANSWER_BYTES) as bare,
    ):
        act = partial(_share, way, seconds)
        acts = {name: partial(act, *counts, seen[name]) for name, counts in kinds.items()}
        seen[nothing_else] = Answers()
        acts[nothing_else] = partial(_share, bare, seconds, clients, 0, seen[nothing_else])
        found = in_turn(acts, scale)
    rows: list[tuple[Cell, ...]] = [
        (name, found[name], each.whole, each.unchanged, each.events) for name, each in seen.items()
    ]
    yield FigureTable(
        title=f"Outlets of a heat that is tapped {POLLED_CHANGES_A_SECOND} times a second",
        columns=("clients", "% of a core", "whole answers", "answers 304", "events"),
        rows=tuple(rows),
        goals=(Goal(says="pollers and streams together", found=found["both"], bound=_BOUND, unit="%"),),
        notes=(f"pollers to those of a bare application: {found[pollers].over(found[nothing_else])}",),
    )


def _share(way: Way, seconds: float, pollers: int, streams: int, seen: Answers) -> float:
    return asyncio.run(_with_clients(way, seconds, pollers, streams, seen))


async def _with_clients(way: Way, seconds: float, pollers: int, streams: int, seen: Answers) -> float:
    """Give the share of a core, in per cent, that clients cost on top of the taps."""
    tapping = asyncio.create_task(_tap(way))
    try:
        await asyncio.sleep(_SETTLE_S)
        alone = await _percent(way.pid, seconds)
        clients = [asyncio.create_task(_poll(way.port, each, seen)) for each in range(pollers)]
        clients += [asyncio.create_task(_listen(way.port, each, seen)) for each in range(streams)]
        await asyncio.sleep(_SETTLE_S)
        busy = await _percent(way.pid, seconds)
        await _gone(*clients)
    finally:
        await _gone(tapping)
    return busy - alone


async def _percent(pid: int, seconds: float) -> float:
    loop = asyncio.get_running_loop()
    before, since = worked_ms(pid), loop.time()
    await asyncio.sleep(seconds)
    return (worked_ms(pid) - before) / (loop.time() - since) / 10


async def _gone(*tasks: asyncio.Task[None]) -> None:
    """End tasks; an error of one that has ended by itself is raised."""
    for task in tasks:
        if task.done():
            task.result()
        task.cancel()
    for task in tasks:
        with suppress(asyncio.CancelledError):
            await task


async def _tap(way: Way) -> None:
    while True:
        way.tap()
        await asyncio.sleep(1 / POLLED_CHANGES_A_SECOND)


async def _connected(port: int, number: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    return await asyncio.open_connection("127.0.0.1", port, local_addr=(f"127.0.0.{2 + number % _ADDRESSES}", 0))


def _request(path: str, port: int, had: str = "") -> bytes:
    named = f"If-None-Match: {had}\r\n" if had else ""
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{named}\r\n".encode()


async def _poll(port: int, number: int, seen: Answers) -> None:
    """Ask ten times a second on one connection, naming what was had, and count the answers."""
    reader, writer = await _connected(port, number)
    had, loop = "", asyncio.get_running_loop()
    due = loop.time() + number * POLL_S / CLIENTS
    try:
        while True:
            await asyncio.sleep(max(0.0, due - loop.time()))
            due += POLL_S
            writer.write(_request(_ROWS, port, had))
            head = (await reader.readuntil(b"\r\n\r\n")).decode()
            fields = dict(line.lower().split(": ", 1) for line in head.splitlines()[1:] if line)
            await reader.readexactly(int(fields.get("content-length", 0)))
            had = fields["etag"]
            _count(head.split()[1], seen)
    finally:
        writer.close()


def _count(status: str, seen: Answers) -> None:
    if status not in {"200", "304"}:
        raise TallywireError(f"found the answer {status} to a poll, expected 200 or 304")
    seen.whole += status == "200"
    seen.unchanged += status == "304"


async def _listen(port: int, number: int, seen: Answers) -> None:
    """Read a stream, and count its events."""
    reader, writer = await _connected(port, number)
    writer.write(_request(_EVENTS, port))
    try:
        while piece := await reader.read(1 << 20):
            seen.events += piece.count(b"event: frame")
    finally:
        writer.close()
