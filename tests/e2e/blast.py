"""Eight pads that send as fast as they are answered, and what must be in the journal of them."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import orjson
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidMessage

from e2e.processes import PRACTICE, Served
from e2e.sender import Sender
from tallywire.shell.journal.port import Line

LANES = range(1, 9)
TABLE = "table-abc"
A_MESSAGE, UNDER_WAY = 25, 4
"""Facts a message, and messages that may wait for their answer."""


def competition(folder: Path) -> Path:
    """Write a competition of eight lanes, a thousand reps each."""
    entries = "".join(f'[[entry]]\nid = "e{n}"\nname = "Entry {n}"\ndivision = "open"\n\n' for n in LANES)
    head, _, rest = PRACTICE.partition("[[entry]]")
    lanes = ", ".join(f'{n} = "e{n}"' for n in LANES)
    places = ", ".join(str(100 - 10 * n) for n in range(len(LANES)))
    text = head.replace("[100, 90, 80, 70]", f"[{places}]") + entries
    path = folder / "eight.toml"
    path.write_text(text + rest[rest.index("[[event]]") :].replace('1 = "a", 2 = "b"', lanes), encoding="utf-8")
    return path


def name_of(lane: int) -> str:
    """Give the sender of a lane."""
    return f"lane-{lane}-abc"


def fact(lane: int, sequence: int) -> dict[str, Any]:
    """Give a lane's fact by its number: mostly reps, some no-reps."""
    name = name_of(lane)
    kind = "no_rep_called" if sequence % 7 == 0 else "rep_counted"
    who = {"id": f"{name}.{sequence}", "heat": "h1", "at_ms": sequence * 10, "sender": name, "sequence": sequence}
    return {"fact": kind, **who, "lane": lane}


@dataclass(slots=True)
class Blast:
    """What was acknowledged of each lane, over all servers there were, and how fast."""

    acknowledged: dict[int, int] = field(default_factory=lambda: dict.fromkeys(LANES, 0))
    rates: list[float] = field(default_factory=list)
    _taken: int = 0
    _most: int = 1_000_000
    _began: float | None = None
    _enough: asyncio.Event = field(default_factory=asyncio.Event)

    async def until_gone(self, server: Served, most: int = 1_000_000) -> None:
        """Send until the server closes every connection by itself, or until so many facts are acknowledged."""
        await asyncio.to_thread(self._call_heat, server)
        self._most = most
        await asyncio.gather(*(self._send(server, lane, 1_000_000) for lane in LANES))

    async def until_killed(self, server: Served, *, facts: int, kill: Callable[[], object] | None = None) -> None:
        """Send until so many facts are acknowledged, kill the server there and then, and take what still comes."""
        await asyncio.to_thread(self._call_heat, server)
        self._taken, wanted, self._enough = 0, facts, asyncio.Event()
        self._began = None
        senders = [asyncio.create_task(self._send(server, lane, wanted)) for lane in LANES]
        enough = asyncio.create_task(self._enough.wait())
        await asyncio.wait({enough, *senders}, timeout=120, return_when=asyncio.FIRST_COMPLETED)
        assert enough.done(), [each.exception() for each in senders if each.done()] or "too slow"
        self.rates.append(self._taken / (time.monotonic() - (self._began or 0)))
        (kill or server.kill)()
        await asyncio.gather(*senders)

    def _call_heat(self, server: Served) -> None:
        """Have the table call the heat, so that its lanes may count."""
        with suppress(ConnectionClosed, InvalidMessage, OSError, EOFError, TimeoutError):
            table = Sender(server.port, TABLE, server.key("scoring table"))
            if not table.watermark:
                table.say("heat_called", unix_ms=time.time_ns() // 1_000_000)
            table.close()

    async def _send(self, server: Served, lane: int, wanted: int) -> None:
        with suppress(ConnectionClosed, InvalidMessage, OSError, EOFError):
            async with connect(f"ws://127.0.0.1:{server.port}/wire", compression=None) as socket:
                hello = {"type": "hello", "role": "lane", "lane": lane, "sender": name_of(lane)}
                await socket.send(orjson.dumps({**hello, "key": server.key(f"lane pad {lane}")}), text=True)
                await self._keep_sending(socket, lane, wanted)

    async def _keep_sending(self, socket: ClientConnection, lane: int, wanted: int) -> None:
        sent = 0
        async for text in socket:
            if self._taken >= self._most:
                return
            message = orjson.loads(text)
            if message["type"] == "welcome":
                sent = message["watermark"]
                assert sent >= self.acknowledged[lane], f"{self.acknowledged[lane]} were acknowledged: {text!r}"
            elif message["type"] == "acknowledged":
                assert not message["refused"], text
                self._count(lane, message["watermark"], wanted)
            while sent < self.acknowledged[lane] + A_MESSAGE * UNDER_WAY:
                items = [fact(lane, number) for number in range(sent + 1, sent + A_MESSAGE + 1)]
                await socket.send(orjson.dumps({"type": "facts", "facts": items}), text=True)
                sent += A_MESSAGE

    def _count(self, lane: int, watermark: int, wanted: int) -> None:
        self._began = self._began or time.monotonic()
        self._taken += watermark - self.acknowledged[lane]
        self.acknowledged[lane] = watermark
        if self._taken >= wanted:
            self._enough.set()


def faults(acknowledged: Mapping[int, int], lines: Iterable[Line]) -> list[str]:
    """List what is wrong with a journal: lost, doubled, out of order, altered."""
    found, last = [], dict.fromkeys(map(name_of, LANES), 0)
    for line in lines:
        if line.sender == TABLE:
            continue
        last[line.sender] += 1
        if line.sequence != last[line.sender]:
            found.append(f"{line.sender} {line.sequence} where {last[line.sender]} was next")
        if orjson.loads(line.body) != fact(int(line.sender.split("-")[1]), line.sequence) or line.refusal is not None:
            found.append(f"{line.sender} {line.sequence} is altered: {line.body!r}")
    lost = {lane: count for lane, count in acknowledged.items() if last[name_of(lane)] < count}
    return found + [f"lane {lane}: {count} acknowledged, {last[name_of(lane)]} there" for lane, count in lost.items()]
