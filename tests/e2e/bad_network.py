"""A bad network between pages and server: a proxy that drops, delays, doubles, reorders and cuts what is said.

Pages come through as they are. Faults hit whole messages, in both directions, drawn by a seed. A lane is known by the
hello of its connection; while it is `away` its connections are cut and no new one holds.
"""

from __future__ import annotations

import asyncio
import json
import threading
import urllib.error
import urllib.request
from collections import Counter
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager, suppress
from random import Random

from websockets.asyncio.client import connect
from websockets.asyncio.connection import Connection
from websockets.asyncio.server import ServerConnection, serve
from websockets.datastructures import Headers
from websockets.exceptions import ConnectionClosed
from websockets.http11 import Request, Response

DROP, DOUBLE, LATE = 0.02, 0.02, 0.02
"""The share of messages that are lost, come twice, and come after those that follow."""
DELAY_S, LATE_S = 0.02, 0.25
CUT_AFTER_S = (4.0, 20.0)
"""A connection lives so long at least and at most."""
_HOP = {"connection", "transfer-encoding", "content-length", "date", "server"}


class BadNetwork:
    """The proxy's faults: what it did, and which lanes it keeps away."""

    def __init__(self, backend: int, seed: int) -> None:
        self.did: Counter[str] = Counter()
        self.away: set[int] = set()
        self.calm = False
        self._backend = backend
        self._random = Random(seed)

    async def page(self, _connection: ServerConnection, request: Request) -> Response | None:
        """Answer what is no handshake from the server."""
        if request.path == "/wire":
            return None
        return await asyncio.to_thread(self._fetch, request.path)

    async def wire(self, client: ServerConnection) -> None:
        """Join a page's wire to the server's until one ends, or the network does."""
        with suppress(ConnectionClosed):
            first = await client.recv()
            lane = json.loads(first).get("lane")
            if lane in self.away:
                self.did["turned away"] += 1
                return
            async with connect(f"ws://127.0.0.1:{self._backend}/wire", compression=None) as server:
                await server.send(first)
                await self._between(client, server, lane)

    async def _between(self, client: Connection, server: Connection, lane: int | None) -> None:
        ways = [asyncio.create_task(self._carry(client, server)), asyncio.create_task(self._carry(server, client))]
        loop = asyncio.get_running_loop()
        until = loop.time() + self._random.uniform(*CUT_AFTER_S)
        while not any(way.done() for way in ways) and lane not in self.away and (self.calm or loop.time() < until):
            await asyncio.wait(ways, timeout=0.1, return_when=asyncio.FIRST_COMPLETED)
        self.did["cut"] += 1
        for way in ways:
            way.cancel()
        # Without a closing handshake, as when a phone leaves the network.
        client.transport.abort()

    async def _carry(self, source: Connection, target: Connection) -> None:
        late: set[asyncio.Task[None]] = set()
        with suppress(ConnectionClosed):
            async for message in source:
                async for each, after_s in self._faults(message):
                    if after_s:
                        late.add(asyncio.create_task(self._later(target, each, after_s)))
                    else:
                        await target.send(each)
        for task in late:
            task.cancel()

    async def _faults(self, message: str | bytes) -> AsyncIterator[tuple[str | bytes, float]]:
        await asyncio.sleep(self._random.uniform(0, DELAY_S))
        chance = 1.0 if self.calm else self._random.random()
        if chance < DROP:
            self.did["dropped"] += 1
            return
        if chance < DROP + DOUBLE:
            self.did["doubled"] += 1
            yield message, 0.0
        if DROP + DOUBLE <= chance < DROP + DOUBLE + LATE:
            self.did["reordered"] += 1
            yield message, LATE_S
            return
        yield message, 0.0

    @staticmethod
    async def _later(target: Connection, message: str | bytes, after_s: float) -> None:
        await asyncio.sleep(after_s)
        with suppress(ConnectionClosed):
            await target.send(message)

    def _fetch(self, path: str) -> Response:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self._backend}{path}") as answer:
                found, status, body = answer.headers.items(), answer.status, answer.read()
        except urllib.error.HTTPError as exc:
            found, status, body = exc.headers.items(), exc.code, exc.read()
        # The policy names the server's own port for the wire; here the wire is this proxy's.
        kept = [(name, text) for name, text in found if name.lower() not in {*_HOP, "content-security-policy"}]
        return Response(status, "", Headers([*kept, ("Content-Length", str(len(body)))]), body)


@contextmanager
def bad_network(backend: int, seed: int) -> Iterator[tuple[BadNetwork, int]]:
    """Run the proxy in a thread of its own; give it and its port."""
    network, started, ended = BadNetwork(backend, seed), threading.Event(), asyncio.Event()
    loop, port = asyncio.new_event_loop(), [0]

    async def run() -> None:
        async with serve(
            network.wire, "127.0.0.1", 0, process_request=network.page, compression=None, ping_interval=None
        ) as server:
            port[0] = next(iter(server.sockets)).getsockname()[1]
            started.set()
            await ended.wait()

    thread = threading.Thread(target=loop.run_until_complete, args=(run(),))
    thread.start()
    started.wait()
    try:
        yield network, port[0]
    finally:
        loop.call_soon_threadsafe(ended.set)
        thread.join()
        loop.close()
