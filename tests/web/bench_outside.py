"""What a tap costs a server, measured from outside: processor time of its process. Run by hand: not a test.

    PYTHONPATH=server:tests python tests/web/bench_outside.py

`tallywire serve` in a process of its own with its journal on disk; the taps of the second half of the demo heat come
over websockets at a given rate while a client in this process watches. On Linux alone.
"""

from __future__ import annotations

import asyncio
import socket
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Iterable, Iterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import replace
from pathlib import Path

from websockets.asyncio.client import ClientConnection, connect

from tallywire.core.facts import Fact, HeatStarted
from tallywire.shell.files import load_recording
from wire.talk import facts, text

SCENARIOS = Path(__file__).parents[2] / "scenarios"
EIGHT = ("heat", "gaps", "result", "event", "next", "subjects", "table", "show")
RATES = (20, 200)
"""Taps a second."""
TAPS = 300
"""Of the floor's measurement."""


def free_port() -> int:
    """A port nobody listens on just now."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def worked_ms(pid: int) -> float:
    """Processor time of all threads of a process so far, from the scheduler (proc(5), schedstat)."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text().split()[0]) for task in tasks) / 1e6


@asynccontextmanager
async def served(data: Path, port: int) -> AsyncIterator[tuple[int, str]]:
    """Run the demo competition in a process of its own, and give its number and what it printed."""
    command = ["-m", "tallywire", "serve", str(SCENARIOS / "saltmarsh.toml"), "--data", str(data), "--port", str(port)]
    process = await asyncio.create_subprocess_exec(sys.executable, *command, stdout=asyncio.subprocess.PIPE)
    assert process.stdout is not None
    printed = ""
    while "Ctrl-C" not in printed:
        printed += (await process.stdout.readline()).decode()
        assert process.returncode is None
    yield process.pid, printed
    process.terminate()
    await process.wait()


async def opened(stack: AsyncExitStack, port: int, sender: str, printed: str) -> ClientConnection:
    """A connection that has said hello as this sender."""
    socket_of = await stack.enter_async_context(connect(f"ws://127.0.0.1:{port}/wire", max_queue=None))
    role, _, rest = sender.partition("-")
    lane = {"lane": int(rest.split("-")[0])} if role == "lane" else {}
    page = f"lane pad {lane['lane']} " if lane else {"table": "scoring table", "desk": "graphics desk"}[role]
    key = next(line for line in printed.splitlines() if line.strip().startswith(page)).partition("#key=")[2]
    await socket_of.send(text(type="hello", role=role, key=key, sender=sender, **lane))
    await socket_of.recv()
    return socket_of


async def play(sockets: dict[str, ClientConnection], sent: Iterable[Fact], rate: float) -> None:
    """Send facts at a rate, each answered before the next one."""
    loop = asyncio.get_running_loop()
    begun = loop.time()
    for n, fact in enumerate(sent):
        await asyncio.sleep(max(0.0, begun + n / rate - loop.time()))
        await sockets[fact.sender].send(facts(fact))
        await sockets[fact.sender].recv()


def as_they_come(recorded: Iterable[Fact], zero_ms: float) -> Iterator[Fact]:
    """Give facts one by one, each at the moment at which it is asked for: none is ahead of the server's clock."""
    for fact in recorded:
        yield replace(fact, at_ms=max(0, round(time.time() * 1000 - zero_ms)))


def as_if_now(recorded: Sequence[Fact], zero_ms: float) -> list[Fact]:
    """Have the heat start at zero: what is done beside taps is done too."""
    return [
        replace(each, unix_ms=round(zero_ms + each.at_ms)) if isinstance(each, HeatStarted) else each
        for each in recorded
    ]


async def bench(views: Sequence[str], rate: float) -> None:
    """Print the cost of a tap at a rate while the views are watched."""
    recorded = load_recording(SCENARIOS / "saltmarsh-women-2.ndjson")
    half = len(recorded) // 2
    zero_ms = time.time() * 1000 - recorded[half].at_ms
    recorded = as_if_now(recorded, zero_ms)
    with tempfile.TemporaryDirectory() as folder:
        port = free_port()
        async with served(Path(folder), port) as (pid, keys), AsyncExitStack() as stack:
            senders = dict.fromkeys(fact.sender for fact in recorded)
            sockets = {name: await opened(stack, port, name, keys) for name in senders}
            watcher = await opened(stack, port, "table-w", keys)
            await play(sockets, recorded[:half], 10_000)
            for view in views:
                await watcher.send(text(type="watch", view=view))
            await asyncio.sleep(1)
            before = worked_ms(pid)
            await play(sockets, as_they_come(recorded[half:], zero_ms), rate)
            cost = (worked_ms(pid) - before) / (len(recorded) - half)
    print(f"  {len(views)} views watched  {rate:4} taps a second  {cost:5.2f} ms of the server a tap")


async def bench_bare(rate: float) -> None:
    """Print what the same taps cost a server that keeps them, answers and tells one watcher, and counts nothing."""
    recorded = load_recording(SCENARIOS / "saltmarsh-women-2.ndjson")[:TAPS]
    with tempfile.TemporaryDirectory() as folder:
        command = ["-m", "web.bare_keeper", folder]
        bare = await asyncio.create_subprocess_exec(sys.executable, *command, stdout=asyncio.subprocess.PIPE)
        assert bare.stdout is not None
        address = f"ws://127.0.0.1:{int(await bare.stdout.readline())}"
        async with AsyncExitStack() as stack:
            sockets = {
                sender: await stack.enter_async_context(connect(address, compression=None, max_queue=None))
                for sender in {fact.sender for fact in recorded} | {"watch"}
            }
            await sockets["watch"].send("watch")
            await play(sockets, recorded[:10], rate)
            before = worked_ms(bare.pid)
            await play(sockets, recorded[10:], rate)
            cost = (worked_ms(bare.pid) - before) / (len(recorded) - 10)
        bare.terminate()
        await bare.wait()
    print(f"  kept and told, no more  {rate:4} taps a second  {cost:5.2f} ms of the server a tap")


async def main() -> None:
    """Print both rates for the floor, for one view and for eight."""
    for rate in RATES:
        await bench_bare(rate)
    for views in (("heat",), EIGHT):
        for rate in RATES:
            await bench(views, rate)


if __name__ == "__main__":
    print("the demo heat, ten lanes, from outside")
    asyncio.run(main())
