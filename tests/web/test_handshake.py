"""What a handshake agrees on, and how a key is compared."""

from __future__ import annotations

import asyncio
import hashlib
from pathlib import Path
from typing import Any

import pytest
from websockets.asyncio.client import connect

from core.samples import competition, on_lanes
from tallywire.shell.keys import Keys
from tallywire.shell.links import Links
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
        answers = [server.client.get(path) for path in ("/", "/pad/?lane=1", "/table/", "/health", "/snapshot/heat")]
        assert [answer.status_code for answer in answers] == [200] * 5
        assert not [answer for answer in answers if "set-cookie" in answer.headers]
        assert not server.client.cookies
        headers: dict[bytes, bytes] = dict(talk.socket.extra_headers or [])
        assert b"set-cookie" not in {name.lower() for name in headers}


class _Noted(dict[str, str]):
    """A table that notes what is looked for in it."""

    def get(self, key: str, default: Any = None) -> Any:
        """Look a key up."""
        self.asked = [*getattr(self, "asked", []), key]
        return super().get(key, default)


def test_keys_are_looked_up_by_their_hash() -> None:
    """Right or wrong, no key is compared with another one: it is hashed whole, and its SHA-256 (hashlib) is looked up.

    So the time an answer takes says nothing of how near a wrong key is, and what is kept opens nothing.
    """
    links = Links(now_ms=lambda: 0)
    links.begin(Keys("table-key", {on_lanes([1])[0]: "key-1"}, "desk-key"))
    noted = links._by_key = _Noted(links._by_key)
    given = ["table-key", "table-kez", "t", "", "ü" * 200]
    assert [getattr(links.role_of(key), "name", None) for key in given] == ["table", None, None, None, None]
    assert noted.asked == [hashlib.sha256(key.encode()).hexdigest() for key in given]
    assert not [link for link in links.all() if "-key" in repr(link)]
