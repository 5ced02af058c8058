"""What a handshake agrees on, and how a key is compared."""

from __future__ import annotations

import asyncio
import hmac
from pathlib import Path

import pytest
from websockets.asyncio.client import connect

from core.samples import competition
from tallywire.shell.keys import Keys
from tallywire.web.serving import running
from tallywire.web.settings import Settings
from web.site import WATCH, site
from wire.talk import hello


@pytest.mark.slow
async def test_compression_is_not_agreed_on(tmp_path: Path) -> None:
    """A client that offers permessage-deflate is served without it. Source: RFC 7692 §5, the `websockets` client."""
    async with (
        running(competition(), Settings(data=tmp_path / "data", port=0)) as server,
        connect(f"{server.address.replace('http', 'ws')}/wire", compression="deflate") as socket,
    ):
        assert socket.request is not None
        assert socket.response is not None
        assert "permessage-deflate" in socket.request.headers["Sec-WebSocket-Extensions"]
        assert "Sec-WebSocket-Extensions" not in socket.response.headers


@pytest.mark.slow
@pytest.mark.parametrize("version", ["0", "8"])
async def test_an_older_protocol_is_refused(tmp_path: Path, version: str) -> None:
    """A handshake of a draft before RFC 6455 (§4.4) is not answered with 101."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        host, _, port = server.address.removeprefix("http://").rpartition(":")
        reader, writer = await asyncio.open_connection(host, int(port))
        writer.write(
            f"GET /wire HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: {version}\r\n\r\n".encode()
        )
        status = int((await asyncio.wait_for(reader.readline(), 10)).split(b" ")[1])
        writer.close()
        await writer.wait_closed()
    assert status in (400, 426)


def test_no_cookie_is_set() -> None:
    """Neither a page nor an answer nor the wire sets a cookie, so a browser has nothing to send along by itself."""
    with site() as server, server.wire(hello("lane-1-a"), WATCH) as talk:
        talk.hear_until("snapshot")
        answers = [server.client.get(path) for path in ("/", "/pad/", "/table/", "/health", "/snapshot/heat")]
        assert [answer.status_code for answer in answers] == [200] * 5
        assert not [answer for answer in answers if "set-cookie" in answer.headers]
        assert not server.client.cookies
        headers: dict[bytes, bytes] = dict(talk.socket.extra_headers or [])
        assert b"set-cookie" not in {name.lower() for name in headers}


def test_keys_are_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Right or wrong, long or short, a key is compared whole by `hmac.compare_digest`, once."""
    compared: list[tuple[bytes, bytes]] = []
    right = hmac.compare_digest

    def noted(one: bytes, other: bytes) -> bool:
        compared.append((one, other))
        return right(one, other)

    monkeypatch.setattr(hmac, "compare_digest", noted)
    keys = Keys("table-key", {1: "key-1"}, "desk-key")
    given = ["table-key", "table-kez", "t", "", "ü" * 200]
    assert [keys.opens("table", None, key) for key in given] == [True, False, False, False, False]
    assert compared == [(b"table-key", key.encode()) for key in given]
