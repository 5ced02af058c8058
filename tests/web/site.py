"""Help for tests of the web: an application on a memory journal with a client in the same process."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import orjson
from starlette.applications import Starlette
from starlette.testclient import TestClient, WebSocketTestSession

from core.samples import competition
from shell.stage import call_all, sample_links
from tallywire.core.model.competition import Competition
from tallywire.shell.clock import SystemClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.keys import Keys
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.web.app import create_app
from tallywire.web.settings import Settings
from tallywire.wire.merge_patch import apply

WATCH = {"type": "watch", "view": "heat"}


@dataclass
class Site:
    """An application, its journal, and a browser-less client."""

    client: TestClient
    journal: MemoryJournal
    live: LiveCompetition = field(repr=False)
    keys: Keys

    @contextmanager
    def wire(self, *messages: str | dict[str, Any], headers: dict[str, str] | None = None) -> Iterator[Talk]:
        """Open the wire and say these messages."""
        with self.client.websocket_connect("/wire", headers=headers or {}) as socket:
            talk = Talk(socket)
            for message in messages:
                talk.say(message)
            yield talk


class Talk:
    """One open websocket."""

    def __init__(self, socket: WebSocketTestSession) -> None:
        self.socket = socket
        self.frame: dict[str, Any] = {}
        self.number = 0

    def say(self, message: str | dict[str, Any]) -> None:
        """Send a message."""
        self.socket.send_text(message if isinstance(message, str) else orjson.dumps(message).decode())

    def hear(self) -> dict[str, Any]:
        """Receive a message, and follow the frames as a page does."""
        message: dict[str, Any] = orjson.loads(self.socket.receive_text())
        if message["type"] == "snapshot":
            self.frame, self.number = message["frame"], message["number"]
        elif message["type"] == "patch":
            assert message["number"] == self.number + 1
            self.frame, self.number = apply(self.frame, message["patch"]), message["number"]
        return message

    def hear_until(self, kind: str) -> dict[str, Any]:
        """Receive until a message of this type comes, and give it."""
        while True:
            message = self.hear()
            if message["type"] == kind:
                return message


@contextmanager
def site(
    *, settings: Settings | None = None, pages: Path | None = None, called: Competition | None = None
) -> Iterator[Site]:
    """Run an application whose live competition lives in the client's event loop.

    Every heat is called to the floor; of the competition `called` only the first one.
    """
    journal, chosen = MemoryJournal(), settings or Settings(data=Path("unused"))
    made: list[LiveCompetition] = []

    @asynccontextmanager
    async def lifespan(outer: Starlette) -> AsyncIterator[None]:
        live = LiveCompetition(
            called or competition(), journal=journal, clock=SystemClock(), links=sample_links(), options=RunOptions()
        )
        live.replay()
        call_all(live.books, list(live.competition.heats)[:1])
        made.append(live)
        outer.mount("/", create_app(live, chosen, pages=pages))
        task = asyncio.create_task(live.recorder.run())
        yield
        live.close()
        live.recorder.close()
        await task

    with TestClient(Starlette(lifespan=lifespan)) as client:
        yield Site(client=client, journal=journal, live=made[0], keys=made[0].keys)
