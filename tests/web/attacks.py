"""Clients that mean no good, each from an address of the loopback range; bounded in count and in time.

    PYTHONPATH=server:tests python -m web.attacks KIND PORT SIZE SECONDS [KEY]

stands for other machines, so it runs in a process of its own. Prints a line when it begins, and as JSON what it did.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
from collections import Counter
from collections.abc import Awaitable, Callable
from contextlib import suppress
from functools import partial

from wire.talk import text

ADDRESS = "127.0.0.66"
"""All of 127.0.0.0/8 is this machine (RFC 1122 §3.2.1.3): strangers come from another address than pads."""
AT_A_TIME = 100
_MASKED, _LONG, _LONGEST = 0x80, 126, 127
BIG = 10 * 1024 * 1024

Done = Counter[str]
Streams = tuple[asyncio.StreamReader, asyncio.StreamWriter]


def frame(payload: bytes) -> bytes:
    """A client's text frame, masked with zeros (RFC 6455 §5.2)."""
    size = len(payload)
    if size < _LONG:
        head = bytes((0x81, _MASKED | size))
    elif size < 1 << 16:
        head = bytes((0x81, _MASKED | _LONG)) + size.to_bytes(2, "big")
    else:
        head = bytes((0x81, _MASKED | _LONGEST)) + size.to_bytes(8, "big")
    return head + bytes(4) + payload


async def dialled(port: int, address: str) -> Streams:
    """A connection from that address."""
    return await asyncio.open_connection("127.0.0.1", port, local_addr=(address, 0))


async def opened(port: int, address: str) -> Streams:
    """A websocket after its handshake. Raises ConnectionError when there is none."""
    reader, writer = await dialled(port, address)
    writer.write(
        f"GET /wire HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
    )
    try:
        answer = await reader.readuntil(b"\r\n\r\n")
    except BaseException:
        writer.close()
        raise
    if b" 101 " not in answer.partition(b"\r\n")[0]:
        writer.close()
        raise ConnectionRefusedError(answer.partition(b"\r\n")[0].decode())
    return reader, writer


async def until_closed(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Stay and read until the server ends it."""
    try:
        with suppress(ConnectionError):
            while await reader.read(65_536):
                pass
    finally:
        writer.close()


async def bare(port: int, address: str, done: Done) -> None:
    """Connect and say nothing."""
    streams = await dialled(port, address)
    done["connected"] += 1
    await until_closed(*streams)


async def idle(port: int, address: str, done: Done) -> None:
    """Open the wire and ask for nothing."""
    streams = await opened(port, address)
    done["connected"] += 1
    await until_closed(*streams)


async def slow(port: int, address: str, done: Done) -> None:
    """Send a request one byte a second."""
    reader, writer = await dialled(port, address)
    done["connected"] += 1
    closed = asyncio.ensure_future(until_closed(reader, writer))
    for byte in f"GET /health HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n".encode():
        if (await asyncio.wait({closed}, timeout=1))[0]:
            break
        writer.write(bytes((byte,)))
    await closed


async def big(port: int, address: str, done: Done) -> None:
    """Send messages of 10 MB."""
    reader, writer = await opened(port, address)
    closed = asyncio.ensure_future(until_closed(reader, writer))
    with suppress(ConnectionError):
        writer.write(frame(b" " * BIG))
        await writer.drain()
    done["sent"] += 1
    await closed


async def join(port: int, address: str, done: Done) -> None:
    """Join, watch, hear the first frame, leave."""
    reader, writer = await opened(port, address)
    try:
        writer.write(frame(text(type="watch", view="heat").encode()))
        if await reader.read(65_536):
            done["joined"] += 1
    finally:
        writer.close()


async def pages(port: int, address: str, done: Done) -> None:
    """Ask for a page again and again on one connection."""
    reader, writer = await dialled(port, address)
    try:
        while True:
            writer.write(f"GET /pad/ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
            head = await reader.readuntil(b"\r\n\r\n")
            size = int(head.lower().partition(b"content-length: ")[2].partition(b"\r\n")[0])
            await reader.readexactly(size)
            done["pages"] += 1
    finally:
        writer.close()


async def garbage(port: int, address: str, done: Done, *, key: str) -> None:
    """With a lane's key, send facts that cannot be read, 64 a message, without waiting for an answer."""
    reader, writer = await opened(port, address)
    name = f"lane-2-{os.urandom(6).hex()}"
    writer.write(frame(text(type="hello", role="lane", lane=2, key=key, sender=name).encode()))
    closed = asyncio.ensure_future(until_closed(reader, writer))
    with suppress(ConnectionError):
        for start in range(1, 30_000, 64):
            junk = [{"sequence": n, "fact": "rubbish", "x": "y" * 700} for n in range(start, start + 64)]
            writer.write(frame(text(type="facts", facts=junk).encode()))
            await writer.drain()
            if closed.done():
                break
            done["facts"] += 64
    await closed


ATTACKS: dict[str, Callable[..., Awaitable[None]]] = {
    "bare": bare,
    "idle": idle,
    "slow": slow,
    "big": big,
    "join": join,
    "pages": pages,
    "garbage": garbage,
}


async def attack(kind: str, port: int, size: int, seconds: float, key: str = "") -> Done:
    """Make `size` attempts, as many at once as stay, until the time is over."""
    done, running = Counter[str](), set[asyncio.Task[None]]()
    act = partial(garbage, key=key) if kind == "garbage" else ATTACKS[kind]
    handful = asyncio.Semaphore(size if kind in ("bare", "idle", "slow") else 8)

    async def once() -> None:
        async with handful:
            done["tried"] += 1
            try:
                await act(port, ADDRESS, done)
            except (OSError, EOFError, asyncio.LimitOverrunError):
                done["refused"] += 1

    with suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            for _ in range(size):
                task = asyncio.create_task(once())
                running.add(task)
                task.add_done_callback(running.discard)
                if done["tried"] % AT_A_TIME == 0:
                    await asyncio.sleep(0)
            await asyncio.gather(*running)
    for task in running:
        task.cancel()
    await asyncio.gather(*running, return_exceptions=True)
    return done


if __name__ == "__main__":
    _kind, _port, _size, _seconds, *_key = sys.argv[1:]
    os.nice(5)
    print("begun", flush=True)
    print(json.dumps(asyncio.run(attack(_kind, int(_port), int(_size), float(_seconds), *_key))))
