"""A tap's way through a running server: which modules it enters, in the order in which it first enters them."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Iterator
from contextlib import AsyncExitStack, contextmanager
from pathlib import Path
from types import FrameType
from unittest.mock import patch

from websockets.asyncio.client import ClientConnection, connect

from core.samples import Pad, competition
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from wire.talk import facts, text

TABLE, PADS = "table-a", {1: "lane-1-a", 2: "lane-2-a"}


class Entries:
    """The modules of the program entered so far, each once, as paths in its folder."""

    def __init__(self) -> None:
        self.modules: list[str] = []

    def note(self, frame: FrameType, event: str, _argument: object) -> None:
        """Note a module when one of its functions is called or goes on."""
        package, _, name = frame.f_globals.get("__name__", "").partition(".")
        path = name.replace(".", "/")
        if event == "call" and package == "tallywire" and path not in self.modules:
            self.modules.append(path)

    @contextmanager
    def noted(self) -> Iterator[None]:
        """Note them for a while, in this thread."""
        sys.setprofile(self.note)
        try:
            yield
        finally:
            sys.setprofile(None)


async def way_of_a_tap(data: Path) -> list[str]:
    """Let a heat start and a pad tap while somebody watches, and give the modules that another lane's tap enters.

    That lane overtakes the first one, so that places are made again; what is made once, such as a thread, is there
    after the first tap. Nothing else happens meanwhile: the cue desk, which would listen once a second, does not, and
    nothing is frozen for the public or measured of the event loop, as it would be twice a second.
    """
    entries = Entries()
    with (
        patch("tallywire.shell.background.BackgroundViews._look"),
        patch("tallywire.shell.public_tape.Tape._freeze"),
        patch("tallywire.shell.lateness.EVERY_S", 3600),
    ):
        async with running(competition(), Settings(data=data, port=0)) as server, AsyncExitStack() as stack:
            viewer, table, *pads = [await stack.enter_async_context(connect(_wire(server))) for _ in range(4)]
            await _said(viewer, text(type="watch", view="heat"))
            keys = server.live.keys
            await _said(table, text(type="hello", role="table", key=keys.table, sender=TABLE))
            for pad, (lane, sender) in zip(pads, PADS.items(), strict=True):
                await _said(pad, text(type="hello", role="lane", lane=lane, key=keys.lane(lane), sender=sender))
            await _shown(table, viewer, facts(Pad(TABLE).start()))
            await _shown(pads[0], viewer, facts(Pad(PADS[1], 1).reps(100)))
            second = facts(Pad(PADS[2], 2).reps(200, 2))
            with entries.noted():
                await _shown(pads[1], viewer, second)
    return entries.modules


def _wire(server: Running) -> str:
    return server.address.replace("http", "ws") + "/wire"


async def _said(socket: ClientConnection, message: str) -> None:
    await socket.send(message)
    await socket.recv()


async def _shown(sender: ClientConnection, viewer: ClientConnection, message: str) -> None:
    """Send a fact and wait until it is answered and shown."""
    await sender.send(message)
    await asyncio.gather(sender.recv(), viewer.recv())
