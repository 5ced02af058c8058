"""From a tap at one edge to the paint at the other, beside one process alone in the same run. By hand: not a test.

    PYTHONPATH=server:tests python tests/e2e/bench_arena.py [CLIENTS]

One writer and two edges with CLIENTS watchers each (500); one process with as many as both edges together. The pad and
the on-air view are pages in a real Chromium; the watchers are plain sockets that read what is sent. Turns change
between the two, so that other work on the machine falls on both.
"""

from __future__ import annotations

import asyncio
import json
import statistics
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page

from e2e.browser import chromium, open_page
from e2e.edges import edge
from e2e.processes import Served, practice, served
from e2e.sender import Sender
from e2e.tap_to_paint import FIRST, percentile_99, prepared, tap_and_see, times
from shell.redis_servers import redis_server

TURNS, TAPS = 5, 30


class Watcher(asyncio.Protocol):
    """Watches the heat: it reads what is sent, answers pings (RFC 6455 §5.5.3), and draws nothing."""

    def __init__(self) -> None:
        self.bytes_in = 0
        self.texts = 0
        self.hears = asyncio.Event()
        self._rest = b""
        self._transport: asyncio.Transport | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Shake hands and watch."""
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        key = "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
        ask = f"GET /wire HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n{key}\r\n"
        transport.write(ask.encode())

    def data_received(self, data: bytes) -> None:
        """Count what came, and answer."""
        if not self.bytes_in and self._transport is not None:
            assert data.startswith(b"HTTP/1.1 101"), data
            self._transport.write(framed(0x81, json.dumps({"type": "watch", "view": "heat", "heat": "h1"}).encode()))
            data = data.partition(b"\r\n\r\n")[2]
            self.bytes_in = 1
        elif self.bytes_in:
            self.hears.set()
        self.bytes_in += len(data)
        self._rest += data
        while (frame := self._frame()) is not None:
            opcode, payload = frame
            self.texts += opcode == 0x81
            if opcode == 0x89 and self._transport is not None:
                self._transport.write(framed(0x8A, payload))

    def _frame(self) -> tuple[int, bytes] | None:
        """Take a whole frame of the server off what came (RFC 6455 §5.2); None when it is not whole yet."""
        rest = self._rest
        if len(rest) < 2:
            return None
        wide = {126: 2, 127: 8}.get(rest[1], 0)
        size = int.from_bytes(rest[2 : 2 + wide]) if wide else rest[1]
        end = 2 + wide + size
        if len(rest) < max(end, 2 + wide):
            return None
        self._rest = rest[end:]
        return rest[0], rest[2 + wide : end]


def framed(opcode: int, payload: bytes) -> bytes:
    """Give a client's frame, under a mask of zeros (RFC 6455 §5.2)."""
    assert len(payload) < 126
    return bytes((opcode, 0x80 | len(payload), 0, 0, 0, 0)) + payload


@contextmanager
def watched(ports: dict[int, int]) -> Iterator[list[Watcher]]:
    """Let so many watch at each port, in a thread with a loop of its own."""
    loop, watchers = asyncio.new_event_loop(), list[Watcher]()

    async def connect() -> None:
        for port, count in ports.items():
            for _ in range(count):
                _, watcher = await loop.create_connection(Watcher, "127.0.0.1", port)
                watchers.append(watcher)
                # A server turns away who comes while too many have not said yet what they want.
                await watcher.hears.wait()

    thread = threading.Thread(target=loop.run_forever)
    thread.start()
    try:
        asyncio.run_coroutine_threadsafe(connect(), loop).result(120)
        yield watchers
    finally:
        loop.call_soon_threadsafe(loop.stop)
        thread.join()


def begun(server: Served) -> None:
    """Start the heat."""
    table = Sender(server.port, "table-a", server.key("scoring table"))
    table.start_heat()
    table.say("rep_counted", lane=1, n=FIRST, at_ms=1)
    table.close()


def pages(browser: Browser, server: Served, pad_port: int, air_port: int) -> tuple[Page, Page]:
    """Open the pad at one port and the on-air view at another."""
    links = (server.links["lane pad 1"], pad_port), (server.links["on air, heat view"], air_port)
    pad, air = (link.replace(f":{server.port}/", f":{port}/") for link, port in links)
    return prepared(open_page(browser, pad, width=390, height=844), open_page(browser, air))


def main() -> int:
    """Measure and print."""
    clients = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    with tempfile.TemporaryDirectory() as temporary, ExitStack() as stack:
        folder = Path(temporary)
        arguments = ("serve", str(practice(folder)), "--port", "0", "--address-limit", str(4 * clients))
        alone = stack.enter_context(served(*arguments, "--data", str(folder / "alone")))
        redis = stack.enter_context(redis_server(folder / "redis"))
        writer = stack.enter_context(served(*arguments, "--data", str(folder / "writer"), "--redis", redis.url))
        one, other = (stack.enter_context(edge(redis.port, "--address-limit", str(4 * clients))) for _ in range(2))
        for server in (alone, writer):
            begun(server)
        audience = {alone.port: 2 * clients, one.port: clients, other.port: clients}
        watchers = stack.enter_context(watched(audience))
        browser = stack.enter_context(chromium())
        arena = {
            "one process": pages(browser, alone, alone.port, alone.port),
            "edge to edge": pages(browser, writer, one.port, other.port),
        }
        found: dict[str, list[float]] = {name: [] for name in arena}
        for turn in range(TURNS):
            for pad, air in arena.values():
                for number in range(TAPS):
                    tap_and_see(pad, air, FIRST + turn * TAPS + number + 1)
        for name, (pad, air) in arena.items():
            found[name] = times(pad, air, TURNS * TAPS)
        heard = sum(each.texts >= TURNS * TAPS / 2 for each in watchers)
    print(f"{clients} watchers at each edge, {2 * clients} at the one process, {TURNS * TAPS} taps; {heard} heard them")
    assert heard >= 0.99 * len(watchers)
    base = statistics.median(found["one process"]), percentile_99(found["one process"])
    for name, each in found.items():
        half, most = statistics.median(each), percentile_99(each)
        ratios = f"ratios {half / base[0]:.2f} and {most / base[1]:.2f}"
        print(f"  {name:14} half within {half:6.1f} ms, 99 % within {most:6.1f} ms, {ratios}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
