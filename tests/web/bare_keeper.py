"""What nobody can save of a tap: a server that keeps each message on the disk, answers it and tells a watcher.

    python -m web.bare_keeper FOLDER

It counts nothing. The journal is SQLite's as ours is (WAL, `synchronous=FULL`), written by a thread of its own; the
answer and the frame are as long as ours. It prints the port that it listens on.
"""

from __future__ import annotations

import asyncio
import sqlite3
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from websockets.asyncio.server import ServerConnection, serve

ANSWER, FRAME = "a" * 170, "f" * 176


class Keeper:
    """A journal, and who watches."""

    def __init__(self, folder: Path) -> None:
        self._thread = ThreadPoolExecutor(1)
        self._journal = sqlite3.connect(folder / "bare.sqlite", check_same_thread=False, isolation_level=None)
        self._journal.execute("PRAGMA journal_mode=WAL")
        self._journal.execute("PRAGMA synchronous=FULL")
        self._journal.execute("CREATE TABLE line (number INTEGER PRIMARY KEY, body TEXT)")
        self._watching: ServerConnection | None = None

    def _keep(self, body: str | bytes) -> None:
        self._journal.execute("INSERT INTO line (body) VALUES (?)", (body,))

    async def talk(self, client: ServerConnection) -> None:
        """Keep each message, answer it, tell the watcher: who says so is the watcher."""
        async for text in client:
            if text == "watch":
                self._watching = client
                continue
            await asyncio.get_running_loop().run_in_executor(self._thread, self._keep, text)
            await client.send(ANSWER)
            if self._watching is not None:
                await self._watching.send(FRAME)


async def main() -> None:
    """Serve until stopped."""
    keeper = Keeper(Path(sys.argv[1]))
    async with serve(keeper.talk, "127.0.0.1", 0, compression=None) as server:
        print(next(iter(server.sockets)).getsockname()[1], flush=True)
        await server.serve_forever()


if __name__ == "__main__":
    asyncio.run(main())
