"""The least that a tap can cost: one number in a page, and an echo, to hold the pad against.

Nothing of the program is in it. What it takes is what this Chromium, this machine and a loopback socket take.
Run as a program it answers, on a free port that it prints, as the server does after it has written a tap to disk.
"""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from websockets.asyncio.server import ServerConnection, serve
from websockets.datastructures import Headers
from websockets.http11 import Request, Response

PAGE = """<!doctype html>
<meta name="viewport" content="width=device-width, initial-scale=1" />
<style>
  html, body { height: 100%; margin: 0; touch-action: none; }
  button { width: 100%; height: 100%; border: 0; font-size: 40vw; background: #14150f; color: #fff; }
</style>
<button data-part="number">0</button>
<script>
  const socket = new WebSocket(`ws://${location.host}/`);
  const number = document.querySelector("button");
  let count = 0;
  socket.onopen = () => number.dataset.ready = "";
  number.firstChild.data = "0";
  number.addEventListener("pointerdown", () => {
    count += 1;
    number.firstChild.data = String(count);
    socket.send(JSON.stringify({ count }));
  });
</script>
"""
"""A button as large as the pad's surface."""


@contextmanager
def echo() -> Iterator[str]:
    """Start the echo in a process of its own, as the server is; gives the address of the page."""
    process = subprocess.Popen([sys.executable, __file__], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        yield f"http://127.0.0.1:{process.stdout.readline().strip()}/"
    finally:
        process.terminate()
        process.wait(timeout=10)
        process.stdout.close()


async def _answer(socket: ServerConnection) -> None:
    async for text in socket:
        await socket.send(json.dumps({"type": "acknowledged", "watermark": json.loads(text)["count"]}))


def _page(_: ServerConnection, request: Request) -> Response | None:
    if request.headers.get("Upgrade"):
        return None
    headers = Headers([("Content-Type", "text/html"), ("Connection", "close"), ("Content-Length", str(len(PAGE)))])
    return Response(200, "OK", headers, PAGE.encode())


async def _listen() -> None:
    async with serve(_answer, "127.0.0.1", 0, compression=None, process_request=_page) as server:
        print(next(iter(server.sockets)).getsockname()[1], flush=True)
        await server.serve_forever()


if __name__ == "__main__":
    asyncio.run(_listen())
