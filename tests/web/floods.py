"""Eight pads count while a stranger, or a link in the wrong hands, floods the server. How long do they wait?

    PYTHONPATH=server:tests python -m web.floods [--short] [KIND …]

prints the table of docs/reliability.md. Server, pads and stranger are three processes of one machine: what one of them
takes the others lack, so the figures are worse than between machines. On Linux alone.
"""

from __future__ import annotations

import asyncio
import json
import sys
import tempfile
from collections.abc import AsyncIterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager, closing
from dataclasses import dataclass, replace
from pathlib import Path

from websockets.asyncio.client import ClientConnection, connect

from core.samples import Pad
from e2e.processes import Served, practice, served
from e2e.sender import Sender
from wire.talk import facts, text

PADS = 8
TAPS_A_SECOND = 10
"""Of each pad. A judge who taps fast: 80 to 120 a minute is the most there is (common practice, no source)."""
FULL: dict[str, int] = {
    "none": 0,
    "bare": 5000,
    "idle": 2000,
    "slow": 1000,
    "big": 400,
    "join": 20_000,
    "pages": 64,
    "garbage": 2000,
}
"""How many attempts each flood makes."""
LONG_S, SHORT_S = 15.0, 2.0
LEAST_LANE = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """How long the pads waited, in milliseconds, and what became of the server, in MiB, and of the flood."""

    kind: str
    waited_ms: Sequence[float]
    memory_mb: float
    journal_mb: float
    descriptors: int
    done: dict[str, int]

    def within_ms(self, share: float) -> float:
        """Give the time within which this share of the answers came."""
        ordered = sorted(self.waited_ms)
        return ordered[min(len(ordered) - 1, int(len(ordered) * share))]

    def __str__(self) -> str:
        """One line of the table."""
        done = ", ".join(f"{count} {name}" for name, count in self.done.items())
        half, most = self.within_ms(0.5), self.within_ms(0.99)
        return (
            f"{self.kind:8} {len(self.waited_ms):6} taps  p50 {half:5.1f}  p99 {most:5.1f}"
            f"  most {max(self.waited_ms):6.1f} ms  memory {self.memory_mb:5.1f} MiB"
            f"  journal {self.journal_mb:5.2f} MiB  {self.descriptors:4} descriptors  {done}"
        )


def memory_mb(pid: int) -> float:
    """Give the most memory the process has had (proc(5), VmHWM)."""
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


def descriptors(pid: int) -> int:
    """Give how many files the process has open."""
    return len(list(Path(f"/proc/{pid}/fd").iterdir()))


def journal_mb(data: Path) -> float:
    """Give the size of the journal on disk."""
    return sum(path.stat().st_size for path in data.glob("journal.sqlite*")) / 2**20


class Tapper:
    """A pad that taps at a steady rate and notes how long each answer takes, in milliseconds."""

    def __init__(self, socket: ClientConnection, pad: Pad) -> None:
        self._socket = socket
        self._pad = pad
        self.waited_ms: list[float] = []

    async def tap(self, until: float) -> None:
        """Tap until this time of the loop; each tap is answered before the next."""
        loop = asyncio.get_running_loop()
        while (began := loop.time()) < until:
            await self._socket.send(facts(replace(self._pad.reps(1), heat="h1")))
            answer = json.loads(await self._socket.recv())
            while answer["type"] != "acknowledged":
                answer = json.loads(await self._socket.recv())
            assert not answer["refused"], answer
            self.waited_ms.append((loop.time() - began) * 1000)
            await asyncio.sleep(max(0.0, began + 1 / TAPS_A_SECOND - loop.time()))


@asynccontextmanager
async def tapping(server: Served) -> AsyncIterator[list[Tapper]]:
    """Eight pads of lane 1, each from an address of its own."""
    key = server.key("lane pad 1")
    async with AsyncExitStack() as stack:
        tappers = []
        for n in range(PADS):
            name = f"lane-1-{n}"
            socket = await stack.enter_async_context(
                connect(f"ws://127.0.0.1:{server.port}/wire", compression=None, local_addr=(f"127.0.1.{n + 1}", 0))
            )
            await socket.send(text(type="hello", role="lane", lane=1, key=key, sender=name))
            await socket.recv()
            tappers.append(Tapper(socket, Pad(name, LEAST_LANE)))
        yield tappers


async def flooded(kind: str, size: int, seconds: float, *options: str) -> Result:
    """Run a server, its pads and one flood."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        command = ["serve", str(practice(Path(folder))), "--data", str(data), "--port", "0", *options]
        with served(*command) as server:
            await asyncio.to_thread(_start, server)
            async with tapping(server) as tappers:
                flood = await _begun(server, kind, size, seconds) if size else None
                open_most = await _tapped(server, tappers, seconds)
                out = b"{}" if flood is None else (await flood.communicate())[0]
            return Result(
                kind=kind,
                waited_ms=[each for tapper in tappers for each in tapper.waited_ms],
                memory_mb=memory_mb(server.process.pid),
                journal_mb=journal_mb(data),
                descriptors=open_most,
                done=json.loads(out),
            )


def _start(server: Served) -> None:
    with closing(Sender(server.port, "table-a", server.key("scoring table"))) as table:
        table.start_heat()


async def _tapped(server: Served, tappers: Sequence[Tapper], seconds: float) -> int:
    """Tap for so long, and give how many descriptors the server had open at most."""
    loop = asyncio.get_running_loop()
    until, most = loop.time() + seconds, 0
    taps = [asyncio.create_task(tapper.tap(until)) for tapper in tappers]
    while loop.time() < until:
        most = max(most, descriptors(server.process.pid))
        await asyncio.sleep(0.2)
    await asyncio.gather(*taps)
    return most


async def _begun(server: Served, kind: str, size: int, seconds: float) -> asyncio.subprocess.Process:
    """Start a flood in a process of its own, and give it once it sends."""
    key = server.key("lane pad 2")
    command = ["-m", "web.attacks", kind, str(server.port), str(size), str(seconds), key]
    flood = await asyncio.create_subprocess_exec(
        sys.executable, *command, stdout=asyncio.subprocess.PIPE, cwd=Path(__file__).parents[1]
    )
    assert flood.stdout is not None
    assert await flood.stdout.readline() == b"begun\n"
    return flood


async def main(arguments: Sequence[str]) -> None:
    """Print the table."""
    short = "--short" in arguments
    for kind in [each for each in arguments if each in FULL] or FULL:
        size = FULL[kind] // 5 if short else FULL[kind]
        print(await flooded(kind, size, SHORT_S if short else LONG_S), flush=True)


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1:]))
