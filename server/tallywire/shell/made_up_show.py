"""A rehearsal of a competition that nobody has raced: made-up heats, played by a server beside this one."""

from __future__ import annotations

import asyncio
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import orjson

from tallywire.core.errors import TallywireError
from tallywire.shell.own_server import OwnServer

_LOOK_S = 0.1
_PATIENCE_S = 60.0
_FROM = "0:01"
"""From here on the clock runs: nobody has to wait for the start."""
_LINKS = ({"role": "table", "label": "rehearsal"}, {"role": "desk", "label": "rehearsal"})


class MadeUpShow:
    """Plays one competition file at a time. The server it starts ends with `end`, or when this process is gone."""

    def __init__(self, path: Path, *, host: str) -> None:
        self._path = path
        self._host = host
        self._child: asyncio.subprocess.Process | None = None
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    async def begin(self) -> dict[str, Any]:
        """Play every heat of the file from its start. Gives the port, and the keys of the table and of the desk."""
        await self.end()
        self._folder = tempfile.TemporaryDirectory(prefix="tallywire-")
        recording, data = Path(self._folder.name) / "made-up.ndjson", Path(self._folder.name) / "data"
        await _done(await _tallywire("simulate", str(self._path), "--out", str(recording)))
        competition = ("--competition", str(self._path), "--data", str(data))
        where = ("--host", self._host, "--port", "0", "--from", _FROM, "--while-stdin")
        self._child = await _tallywire("rehearse", str(recording), *competition, *where)
        server = await self._answering(data, self._child)
        made = orjson.loads(await asyncio.to_thread(server.post, "/links", {"links": list(_LINKS)}))
        table, desk = (each["url"].partition("#key=")[2] for each in made["slips"])
        return {"port": urlsplit(server.address).port, "table": table, "desk": desk}

    async def end(self) -> None:
        """End the rehearsal, if there is one."""
        child, self._child = self._child, None
        if child is not None and child.returncode is None:
            with suppress(ProcessLookupError):
                child.terminate()
            await child.communicate()
        folder, self._folder = self._folder, None
        if folder is not None:
            await asyncio.to_thread(folder.cleanup)

    async def _answering(self, data: Path, child: asyncio.subprocess.Process) -> OwnServer:
        for _ in range(round(_PATIENCE_S / _LOOK_S)):
            with suppress(OSError, ValueError, KeyError, TypeError):
                server = OwnServer.noted(data)
                await asyncio.to_thread(server.get, "/health")
                return server
            if child.returncode is not None:
                await _done(child)
            await asyncio.sleep(_LOOK_S)
        await self.end()
        raise TallywireError("found no rehearsal that answers, expected one within a minute: try again")


async def _tallywire(*words: str) -> asyncio.subprocess.Process:
    return await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "tallywire",
        *words,
        # Nothing is written there: it closes when this process ends, however that comes about.
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.PIPE,
    )


async def _done(child: asyncio.subprocess.Process) -> None:
    """Wait until a command has ended. Raises TallywireError with what it said when it failed."""
    _, said = await child.communicate()
    if child.returncode:
        text = said.decode(errors="replace").strip()[-500:]
        raise TallywireError(f"the rehearsal did not begin: {text}")
