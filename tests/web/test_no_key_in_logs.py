"""What is logged while keys are in use, read back: no key is in it."""

from __future__ import annotations

import logging
from asyncio import to_thread
from http.client import HTTPConnection
from pathlib import Path

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosed

from core.samples import Pad, competition
from tallywire.web.client import Client
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from wire.talk import facts, text

pytestmark = pytest.mark.slow
WRONG = "wrong-key-of-a-stranger"


def _recording(server: Running, key: str) -> int:
    """Ask for the recording with a key and give the status."""
    connection = HTTPConnection(server.address.removeprefix("http://"), timeout=10)
    connection.request("GET", "/recording", headers={"Authorization": f"Bearer {key}"})
    status = connection.getresponse().status
    connection.close()
    return status


async def _said(server: Running, *messages: str) -> str:
    """Say these on a connection of its own, and give everything that was heard before a ping was answered."""
    heard: list[str] = []
    async with connect(f"{server.address.replace('http', 'ws')}/wire") as socket:
        for message in (*messages, text(type="ping", t1=1)):
            await socket.send(message)
        try:
            while '"pong"' not in "".join(heard[-1:]):
                heard.append(str(await socket.recv()))
        except ConnectionClosed as closed:
            heard.append(str(closed))
    return "".join(heard)


async def test_no_key_is_logged(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Right and wrong keys, a broken message and a failure amid a hello: no log, answer or journal has a key."""
    # The client under test is in this process as well, and what it logs of itself is not ours.
    caplog.set_level(logging.INFO)
    hear = Client.hear

    def failing(self: Client, message: str | bytes) -> None:
        if "fail-now" in str(message):
            raise RuntimeError("broken on purpose")
        hear(self, message)

    monkeypatch.setattr(Client, "hear", failing)
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        keys = server.live.keys
        table = text(type="hello", role="table", sender="table-a", key=keys.table)
        heard = await _said(server, table, facts(Pad("table-a").start()), table.removesuffix("}"))
        heard += await _said(server, text(type="hello", role="lane", lane=1, sender="lane-1-a", key=keys.lane(2)))
        heard += await _said(server, text(type="hello", role="table", sender="table-b", key=WRONG))
        heard += await _said(server, text(type="hello", role="desk", sender="fail-now", key=keys.desk))
        assert [await to_thread(_recording, server, key) for key in (keys.table, WRONG)] == [200, 401]
        kept = b"".join(line.body for line in server.live.journal.read()).decode()
    assert "welcome" in heard
    assert "not_allowed" in heard
    assert "broken on purpose" in caplog.text
    assert "WebSocket /wire" in caplog.text
    assert "a client of 127.0.0.1 was sent away: not allowed" in caplog.text
    for secret in (keys.table, keys.desk, *keys.lanes.values(), WRONG):
        assert secret not in caplog.text
        assert secret not in heard
        assert secret not in kept
        assert secret not in repr(keys)
