"""Simulated viewers of the public feed: each asks once a second, as the spectator page does; they share connections."""

from __future__ import annotations

import asyncio
import gzip
import random
import ssl
from dataclasses import dataclass, field
from typing import Any

import orjson

from tallywire.wire.merge_patch import apply

_CONNECTIONS = 400
"""So many connections carry the requests of all viewers, one after the other: each viewer waits for its own answers."""


@dataclass(slots=True)
class Seen:
    """When each viewer first saw so many reps in all lanes together, by the loop's clock; and what it cost them."""

    first: list[dict[int, float]] = field(default_factory=list)
    bytes_in: int = 0
    lists: int = 0
    segments: int = 0
    statuses: dict[int, int] = field(default_factory=dict)


class Audience:
    """So many viewers at one address."""

    def __init__(self, host: str, port: int, context: ssl.SSLContext, *, viewers: int) -> None:
        self._host, self._port, self._context = host, port, context
        self._free: asyncio.Queue[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = asyncio.Queue()
        self._segments: dict[str, Any] = {}
        self._read: dict[bytes, Any] = {}
        self._counted: dict[tuple[str, int], int] = {}
        self.sizes: dict[str, list[int]] = {"list": [], "segment": []}
        self.seen = Seen(first=[{} for _ in range(viewers)])

    async def watch(self, seconds: float) -> Seen:
        """Let all look for so long."""
        for _ in range(_CONNECTIONS):
            self._free.put_nowait(await self._connected())
        end = asyncio.get_running_loop().time() + seconds
        await asyncio.gather(*(self._look(first, end) for first in self.seen.first))
        while not self._free.empty():
            self._free.get_nowait()[1].close()
        return self.seen

    async def _connected(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        return await asyncio.open_connection("127.0.0.1", self._port, ssl=self._context, server_hostname=self._host)

    async def _look(self, first: dict[int, float], end: float) -> None:
        loop = asyncio.get_running_loop()
        due, known = loop.time() + random.random(), ""
        while due < end:
            await asyncio.sleep(max(0.0, due - loop.time()))
            said = await self._get("/public/newest")
            self.seen.lists += 1
            if said is not None:
                if said["segment"] != known:
                    segment = await self._get(f"/public/segments/{said['segment']}")
                    self.seen.segments += 1
                    if segment is not None:
                        known = said["segment"]
                        self._segments[known] = segment
                if said["segment"] == known:
                    first.setdefault(self._reps(known, said), loop.time())
            due = max(due + 1.0, loop.time())

    def _reps(self, segment: str, said: Any) -> int:
        """Count all reps in a picture; the same answer is put together once for all who have it."""
        key = (segment, said["unix_ms"])
        if key not in self._counted:
            picture: Any = apply(self._segments[segment], said["changes"])
            self._counted[key] = sum(lane["done"] for lane in picture["lanes"].values())
        return self._counted[key]

    async def _get(self, path: str) -> Any:
        asked = f"GET {path} HTTP/1.1\r\nHost: {self._host}:{self._port}\r\nAccept-Encoding: gzip\r\n\r\n"
        reader, writer = await self._free.get()
        try:
            writer.write(asked.encode())
            head = await reader.readuntil(b"\r\n\r\n")
        except (OSError, asyncio.IncompleteReadError):
            # nginx ends a connection after a thousand requests.
            reader, writer = await self._connected()
            writer.write(asked.encode())
            head = await reader.readuntil(b"\r\n\r\n")
        lines = head.decode().split("\r\n")
        fields = {name.lower(): value.strip() for name, _, value in (line.partition(":") for line in lines[1:])}
        body = await reader.readexactly(int(fields["content-length"]))
        self._free.put_nowait((reader, writer))
        status = int(lines[0].split()[1])
        self.seen.bytes_in += len(head) + len(body)
        self.sizes["segment" if "/segments/" in path else "list"].append(len(head) + len(body))
        self.seen.statuses[status] = self.seen.statuses.get(status, 0) + 1
        if status != 200:
            return None
        if body not in self._read:
            self._read[body] = orjson.loads(gzip.decompress(body))
        return self._read[body]
