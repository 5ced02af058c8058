"""Where one HTTP message ends and the next begins, and that each answer says what it is."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from pathlib import Path

import pytest
from starlette.testclient import WebSocketDenialResponse

from core.samples import competition
from tallywire.web import heads, http_protocol
from tallywire.web.serving import running
from tallywire.web.settings import Settings
from web.site import site


async def _answers(folder: Path, request: str) -> bytes:
    """Send this, and then a second request, in one piece; give all that is answered."""
    async with running(competition(), Settings(data=folder / "data", port=0)) as server:
        reader, writer = await asyncio.open_connection("127.0.0.1", int(server.address.rsplit(":", 1)[1]))
        writer.write(f"{request}GET /openapi.json HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode())
        answer = await asyncio.wait_for(reader.read(), 20)
        writer.close()
        return answer


HEAD = "GET /health HTTP/1.1\r\nHost: localhost\r\n"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("request_text", "statuses"),
    [
        (f"{HEAD}\r\n", [200, 200]),
        (f"{HEAD}Content-Length: 99\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n0\r\n\r\n", [400]),
        (f"{HEAD}Content-Length: 3\r\nContent-Length: 4\r\n\r\nabc", [400]),
        (f"{HEAD}Content-Length: -1\r\n\r\n", [400]),
        (f"{HEAD}X: a\rb\r\n\r\n", [400]),
    ],
    ids=["plain", "chunked and a length", "two lengths", "no length", "a bare CR"],
)
async def test_messages_end_where_the_standard_says(tmp_path: Path, request_text: str, statuses: list[int]) -> None:
    """What follows a message is read as the next one, and a head that is ambiguous ends the connection.

    One with both lengths may be taken by its chunks or refused, which is safer behind a proxy. Source: RFC 9112 §6.1,
    §6.3 and §11.2; ASVS 5.0 4.2.1.
    """
    answer = await _answers(tmp_path, request_text)
    found = [int(each.split(b" ")[0]) for each in answer.split(b"HTTP/1.1 ")[1:]]
    assert found == statuses


@pytest.mark.parametrize(
    "path",
    ["/health", "/snapshot/heat", "/recording", "/links", "/openapi.json", "/theme/sheet.css", "/pad/", "/none/"],
)
def test_each_answer_says_its_type_and_its_length(path: str) -> None:
    """Every answer with a body names its media type, text its charset, and its length is that of what came.

    Source: ASVS 5.0 4.1.1 and 4.2.2. JSON is UTF-8 by its own standard (RFC 8259 §8.1) and has no such parameter.
    """
    with site() as server:
        answer = server.client.get(path)
    kind = answer.headers["Content-Type"]
    assert kind == "application/json" or "charset=utf-8" in kind
    assert int(answer.headers["Content-Length"]) == len(answer.content)


def test_a_long_head_is_named() -> None:
    """Of a head that came whole the answer says how long it was, its query too. Source: RFC 6585 §5."""
    with site() as server:
        parts = {"X-Long": "x" * 10_000}
        assert server.client.get("/health", headers=parts).status_code == 200
        assert server.client.get(f"/health?{'x' * 10_000}", headers=parts).status_code == 431
        answer = server.client.get("/health", headers={"X-Long": "x" * 70_000})
        assert (answer.status_code, answer.json()["code"]) == (431, "long_head")
        with pytest.raises(WebSocketDenialResponse) as denied, server.wire(headers={"X-Long": "x" * 70_000}):
            pass
    assert denied.value.status_code == 431


@pytest.mark.slow
@pytest.mark.parametrize("pieces", [1, 20])
async def test_a_long_head_is_refused(tmp_path: Path, pieces: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A head of 70 kB is refused, in one piece or in many; one of 8 kB is no trouble.

    Without the bound it is answered as any other. Source: RFC 6585 §5.
    """

    async def asked(size: int) -> bytes:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        head = f"{HEAD}X-Long: {'x' * size}\r\nConnection: close\r\n\r\n".encode()
        step = len(head) // pieces + 1
        for start in range(0, len(head), step):
            with suppress(ConnectionError):
                writer.write(head[start : start + step])
                await writer.drain()
                await asyncio.sleep(0.001 if pieces > 1 else 0)
        answer = b""
        # A server that refuses without reading all resets the connection, and its answer may be lost with it.
        with suppress(ConnectionError):
            answer = await asyncio.wait_for(reader.readline(), 20)
        writer.close()
        return answer.partition(b" ")[2][:3]

    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        port = int(server.address.rsplit(":", 1)[1])
        assert await asked(8_000) == b"200"
        assert await asked(70_000) in (b"431", b"400", b"")
    monkeypatch.setattr(heads, "HEAD_LIMIT", 10**6)
    monkeypatch.setattr(http_protocol, "HEAD_LIMIT", 10**6)
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        port = int(server.address.rsplit(":", 1)[1])
        assert await asked(70_000) == b"200"
