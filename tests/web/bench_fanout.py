"""How much a delivered frame costs. Run by hand: not a test.

    PYTHONPATH=server:tests python tests/web/bench_fanout.py

Server CPU per delivered frame (`time.process_time` over frames times clients), clients in another process,
beside `await websocket.send_text` in a loop over the same clients, on plain uvicorn with the same settings, turn and
turn about in one run. Absolute figures depend on the machine; the ratio is what counts.
"""

from __future__ import annotations

import asyncio
import resource
import selectors
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.routing import WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from core.samples import competition
from shell.stage import frame_now
from tallywire.web.serving import running
from tallywire.web.settings import Settings
from tallywire.wire import replies
from tallywire.wire.text_frame import text_frame
from wire.talk import text

CLIENTS = (200, 1000)
ROUNDS, FRAMES_A_ROUND, REPEATS = 6, 50, 3

Send = Callable[[int], Awaitable[None]]
Way = Callable[[int], AbstractAsyncContextManager[tuple[int, Send]]]
"""For so many clients: the port of a server and what sends its clients frame number so-and-so."""


# The clients: another process that reads and throws away


def read_and_forget(port: int, clients: int) -> None:
    """Open so many websockets, ask to watch, say so, and read until the server closes."""
    raise_file_limit(clients)
    selector = selectors.DefaultSelector()
    for _ in range(clients):
        selector.register(watching_socket(port), selectors.EVENT_READ)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    while selector.get_map():
        for key, _ in selector.select():
            assert isinstance(key.fileobj, socket.socket)
            if not key.fileobj.recv(65536):
                selector.unregister(key.fileobj)
                key.fileobj.close()


def watching_socket(port: int) -> socket.socket:
    """Shake hands by hand and ask for the heat view."""
    opened = socket.create_connection(("127.0.0.1", port))
    opened.sendall(
        b"GET /wire HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
    )
    opened.recv(4096)
    watch = text(type="watch", view="heat").encode()
    opened.sendall(bytes((0x81, 0x80 | len(watch), 0, 0, 0, 0)) + watch)
    return opened


def raise_file_limit(clients: int) -> None:
    """Allow a file descriptor a client."""
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 2 * clients + 200), hard))


@asynccontextmanager
async def clients_of(port: int, clients: int) -> AsyncIterator[None]:
    """Run the clients' process for a while."""
    command = [sys.executable, __file__, str(port), str(clients)]
    process = await asyncio.create_subprocess_exec(*command, stdout=subprocess.PIPE)
    assert process.stdout is not None
    assert await process.stdout.readline() == b"ready\n"
    yield
    process.terminate()
    await process.wait()


# The two ways of sending


@asynccontextmanager
async def our_way(clients: int) -> AsyncIterator[tuple[int, Send]]:
    """The server as it is: a frame is folded, compared, encoded and framed once, and written to the transports."""
    with tempfile.TemporaryDirectory() as folder:
        async with running(competition(lanes=10), Settings(data=Path(folder), port=0)) as server:
            made = frame_now(server.live, "heat", "floor")
            frames = [{**made, "n": n, "pad": padding(n)} for n in (0, 1)]

            async def send(number: int) -> None:
                feed = server.live.fan_out.feed("heat", "floor")
                assert len(feed.writes) == clients, f"{len(feed.writes)} of {clients} clients keep up"
                feed.publish(frames[number % 2], unix_ms=number)

            yield int(server.address.rsplit(":", 1)[1]), send


@asynccontextmanager
async def plain_way(clients: int) -> AsyncIterator[tuple[int, Send]]:
    """Plain starlette on plain uvicorn: every client is sent the same text, one after the other."""
    sockets: set[WebSocket] = set()

    async def endpoint(websocket: WebSocket) -> None:
        await websocket.accept()
        sockets.add(websocket)
        try:
            while True:
                await websocket.receive_text()
        except WebSocketDisconnect:
            sockets.discard(websocket)

    async def send(number: int) -> None:
        assert len(sockets) == clients
        message_text = patch_message(number, change(number)).decode()
        for websocket in list(sockets):
            await websocket.send_text(message_text)

    config = uvicorn.Config(
        Starlette(routes=[WebSocketRoute("/wire", endpoint)]), port=0, http="h11", ws=WebSocketsSansIOProtocol,
        ws_per_message_deflate=False, lifespan="off", log_config=None, access_log=False, timeout_graceful_shutdown=2,
    )  # fmt: skip
    server = uvicorn.Server(config)
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    task = asyncio.create_task(server.serve(sockets=[listener]))
    yield listener.getsockname()[1], send
    server.should_exit = True
    await task


def padding(number: int) -> str:
    """So much text that a patch is about 300 bytes, as that of a tap is."""
    return str(number % 2) * 230


def change(number: int) -> dict[str, Any]:
    """The same change that `our_way` finds."""
    return {"n": number % 2, "pad": padding(number)}


def patch_message(number: int, found: dict[str, Any]) -> bytes:
    """A patch of the heat on the floor."""
    return replies.patch(replies.Stamp(view="heat", heat="floor", number=number, unix_ms=number), change=found)


async def cpu_us_a_frame(way: Way, clients: int) -> float:
    """Send rounds of frames, letting the clients read in between, and give the server's CPU for one delivered frame."""
    async with way(clients) as (port, send), clients_of(port, clients):
        await asyncio.sleep(0.5)
        spent = 0.0
        for round_number in range(ROUNDS):
            begun = time.process_time()
            for number in range(FRAMES_A_ROUND):
                await send(round_number * FRAMES_A_ROUND + number + 1)
                await asyncio.sleep(0)
            spent += time.process_time() - begun
            await asyncio.sleep(0.3)
    return spent / (ROUNDS * FRAMES_A_ROUND * clients) * 1e6


async def bench_fan_out() -> None:
    """Print both ways, turn and turn about."""
    size = len(text_frame(patch_message(1, change(1))))
    print(f"fan-out, {size} bytes a frame, server CPU per delivered frame, medians of {REPEATS}")
    for clients in CLIENTS:
        raise_file_limit(clients)
        found: dict[str, list[float]] = {"ours": [], "plain": []}
        for _ in range(REPEATS):
            found["plain"].append(await cpu_us_a_frame(plain_way, clients))
            found["ours"].append(await cpu_us_a_frame(our_way, clients))
        ours, plain = statistics.median(found["ours"]), statistics.median(found["plain"])
        print(f"  {clients:5} clients  ours {ours:5.1f} us  await send_text {plain:5.1f} us  ratio {plain / ours:.2f}")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        read_and_forget(int(sys.argv[1]), int(sys.argv[2]))
    else:
        asyncio.run(bench_fan_out())
