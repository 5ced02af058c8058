"""What pollers and event streams cost a server: processor time of its process, measured from outside. Not a test.

    cd tests && PYTHONPATH=../server:. python -m web.bench_outlets

`tallywire serve` in a process of its own, with its journal on disk; the second half of the demo heat is tapped in,
three taps a second, which is about its own pace. Pollers ask ten times a second for the heat's rows and name what they
had; streams read the frames' events. What the taps cost without any of them is measured before, in the same process,
and taken off. Each client comes from one of ten loopback addresses, as from ten machines. On Linux alone.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from pathlib import Path

from tallywire.shell.files import load_recording
from web.bench_outside import SCENARIOS, as_if_now, free_port, opened, play, served, worked_ms

POLL_S = 0.1
ADDRESSES = 10
TAPS_A_SECOND = 3
ROWS, EVENTS = "/v1/heats/floor/heat/rows.json", "/v1/heats/floor/heat/frame.events"


@asynccontextmanager
async def tapped() -> AsyncIterator[tuple[int, int]]:
    """Serve the demo competition and tap its heat in, from the middle on; gives the server's number and port."""
    recorded = load_recording(SCENARIOS / "saltmarsh-women-2.ndjson")
    half = len(recorded) // 2
    recorded = as_if_now(recorded, recorded[half].at_ms)
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        async with served(Path(folder), port) as (pid, keys), AsyncExitStack() as stack:
            senders = dict.fromkeys(fact.sender for fact in recorded)
            sockets = {name: await opened(stack, port, name, keys) for name in senders}
            await play(sockets, recorded[:half], 10_000)
            tapping = asyncio.create_task(play(sockets, recorded[half:], TAPS_A_SECOND))
            yield pid, port
            tapping.cancel()
            with suppress(asyncio.CancelledError):
                await tapping


async def _connected(port: int, number: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    source = (f"127.0.0.{2 + number % ADDRESSES}", 0)
    return await asyncio.open_connection("127.0.0.1", port, local_addr=source)


def _request(path: str, port: int, had: str = "") -> bytes:
    named = f"If-None-Match: {had}\r\n" if had else ""
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{named}\r\n".encode()


async def poll(port: int, number: int, seen: Counter[str]) -> None:
    """Ask ten times a second on one connection, and count the answers by status."""
    reader, writer = await _connected(port, number)
    had, loop = "", asyncio.get_running_loop()
    due = loop.time() + number * POLL_S / 50
    while True:
        await asyncio.sleep(max(0.0, due - loop.time()))
        due += POLL_S
        writer.write(_request(ROWS, port, had))
        head = (await reader.readuntil(b"\r\n\r\n")).decode()
        fields = dict(line.lower().split(": ", 1) for line in head.splitlines()[1:] if line)
        await reader.readexactly(int(fields.get("content-length", 0)))
        had = fields["etag"]
        seen[head.split()[1]] += 1


async def listen(port: int, number: int, seen: Counter[str]) -> None:
    """Read a stream, and count its events."""
    reader, writer = await _connected(port, number)
    writer.write(_request(EVENTS, port))
    while piece := await reader.read(1 << 20):
        seen["events"] += piece.count(b"event: frame")


async def share(pid: int, seconds: float) -> float:
    """Give the share of one core that a process takes over a while."""
    loop = asyncio.get_running_loop()
    before, since = worked_ms(pid), loop.time()
    await asyncio.sleep(seconds)
    return (worked_ms(pid) - before) / (loop.time() - since) / 1000


async def shares(*, pollers: int, streams: int, seconds: float) -> None:
    """Print the share of one core that the server takes for the taps and for these clients, and what they were sent."""
    async with tapped() as (pid, port):
        await asyncio.sleep(1)
        alone = await share(pid, seconds)
        seen: Counter[str] = Counter()
        clients = [asyncio.create_task(poll(port, each, seen)) for each in range(pollers)]
        clients += [asyncio.create_task(listen(port, each, seen)) for each in range(streams)]
        await asyncio.sleep(1)
        seen.clear()
        busy = await share(pid, seconds)
        broken = [each.exception() for each in clients if each.done()]
        assert not broken, broken
        for each in clients:
            each.cancel()
        with suppress(asyncio.CancelledError):
            await asyncio.gather(*clients)
    who = f"{pollers} pollers, {streams} streams"
    print(f"  {who}: {busy - alone:6.1%} of a core beside {alone:.1%} for the taps, {dict(seen)}")


async def main() -> None:
    """Print the cost of each kind of client, and of both."""
    for pollers, streams in ((50, 0), (0, 50), (50, 50)):
        await shares(pollers=pollers, streams=streams, seconds=10)


if __name__ == "__main__":
    asyncio.run(main())
