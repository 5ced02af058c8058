"""The real server killed while facts are in flight: what it acknowledged stays, and a resend doubles nothing."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from random import randrange
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

from e2e.processes import Served, exported, practice, served
from e2e.sender import Sender

pytestmark = pytest.mark.slow

BATCH, WINDOW, KILLS = 5, 8, 2
"""Facts in a message, messages sent ahead of their answers, and how often the server is killed."""


class Pad:
    """A lane's sender that keeps what it has sent and always has some messages unanswered."""

    def __init__(self, lane: int) -> None:
        self.lane, self.name = lane, f"lane-{lane}-x"
        self.sent = self.acknowledged = 0

    def taps(self, server: Served) -> None:
        """Send until the server is gone."""
        with self._joined(server) as socket, suppress(ConnectionClosed):
            while True:
                while self.sent - self.acknowledged < WINDOW * BATCH:
                    self.sent += BATCH
                    self._send(socket, self.sent - BATCH + 1)
                self._hear(socket)

    def ends(self, server: Served) -> None:
        """Send what is not in the journal yet, until all is acknowledged."""
        with self._joined(server) as socket:
            while self.acknowledged < self.sent:
                self._hear(socket)

    @contextmanager
    def _joined(self, server: Served) -> Iterator[ClientConnection]:
        """Connect and send again what the server's watermark does not cover, and a message that it does."""
        with connect(f"ws://127.0.0.1:{server.port}/wire", compression=None) as socket:
            who = {"role": "lane", "lane": self.lane, "sender": self.name, "key": server.key(f"lane pad {self.lane}")}
            socket.send(json.dumps({"type": "hello", **who}))
            known = json.loads(socket.recv(timeout=30))["watermark"]
            assert self.acknowledged <= known <= self.sent
            for first in range(max(1, known - known % BATCH - BATCH + 1), self.sent, BATCH):
                self._send(socket, first)
            yield socket

    def _hear(self, socket: ClientConnection) -> None:
        answer = json.loads(socket.recv(timeout=30))
        assert (answer["type"], answer.get("refused")) == ("acknowledged", []), answer
        self.acknowledged = max(self.acknowledged, answer["watermark"])

    def _send(self, socket: ClientConnection, first: int) -> None:
        facts = [self._tap(number) for number in range(first, first + BATCH)]
        socket.send(json.dumps({"type": "facts", "facts": facts}))

    def _tap(self, number: int) -> dict[str, Any]:
        own = {"id": f"{self.name}.{number}", "sender": self.name, "sequence": number, "lane": self.lane}
        return {"fact": "rep_counted", "heat": "h1", "at_ms": number, **own}


def killed_while_sending(command: Sequence[str], pads: Sequence[Pad], *, first: bool) -> int:
    """Serve, let the pads send, and kill the server; gives how many facts were unanswered at that moment."""
    goals = [pad.acknowledged + BATCH * randrange(1, 20) for pad in pads]
    with served(*command) as server, ThreadPoolExecutor() as threads:
        if first:
            table = Sender(server.port, "table-a", server.key("scoring table"))
            table.start_heat()
            table.close()
        sending = [threads.submit(pad.taps, server) for pad in pads]
        while any(pad.acknowledged < goal for pad, goal in zip(pads, goals, strict=True)):
            assert not any(each.done() for each in sending), "a pad stopped by itself"
            os.sched_yield()
        in_flight = sum(pad.sent - pad.acknowledged for pad in pads)
        server.kill()
        for each in sending:
            each.result(timeout=60)
    return in_flight


def kept(data: Path, pads: Sequence[Pad]) -> list[list[int]]:
    """The sequence numbers of each pad in the journal, in its order."""
    facts = exported(data)
    return [[int(str(fact["sequence"])) for fact in facts if fact["sender"] == pad.name] for pad in pads]


def test_a_server_killed_with_facts_in_flight_keeps_all_it_acknowledged(tmp_path: Path) -> None:
    """Killed twice while two pads send: nothing acknowledged is lost, nothing is doubled, all is there in the end.

    The kill comes after a random number of answers, so that it falls anywhere between a commit and the next one.
    """
    data, pads = tmp_path / "data", [Pad(1), Pad(2)]
    command = ("serve", str(practice(tmp_path)), "--data", str(data), "--port", "0")
    in_flight = 0
    for number in range(KILLS):
        in_flight += killed_while_sending(command, pads, first=number == 0)
        for pad, numbers in zip(pads, kept(data, pads), strict=True):
            assert numbers == [*range(1, len(numbers) + 1)]
            assert pad.acknowledged <= len(numbers) <= pad.sent
    assert in_flight > 0
    with served(*command) as server:
        for pad in pads:
            pad.ends(server)
    assert kept(data, pads) == [[*range(1, pad.sent + 1)] for pad in pads]
