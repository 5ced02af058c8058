"""What one HTTP connection may make the server keep, and what that relies on in uvicorn and its parser in C."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from pathlib import Path

import pytest

from core.samples import competition
from tallywire.web.heads import HEAD_LIMIT
from tallywire.web.http_protocol import REQUESTS_AHEAD, BoundedHttp
from tallywire.web.serving import running
from tallywire.web.settings import Settings

pytestmark = pytest.mark.slow
ASK = b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n"
CHUNKED = b"POST /facts HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n"


@pytest.fixture
async def port(tmp_path: Path) -> AsyncIterator[int]:
    """A running server's port."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        yield int(server.address.rsplit(":", 1)[1])


async def said(port: int, *pieces: bytes) -> bytes:
    """Send pieces one after the other, and give all that is answered until the server closes."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    answer = b""
    # A server that refuses without reading all resets the connection, and its answer may be lost with it.
    with suppress(ConnectionError):
        for piece in pieces:
            writer.write(piece)
            await writer.drain()
            await asyncio.sleep(0)
        answer = await asyncio.wait_for(reader.read(), 20)
    writer.close()
    return answer


async def test_requests_that_follow_each_other_are_answered_in_order(port: int) -> None:
    """As many as may wait are all answered, though they came in one piece (RFC 9112 §9.3.2)."""
    last = ASK.replace(b"\r\n\r\n", b"\r\nConnection: close\r\n\r\n")
    answer = await said(port, ASK * REQUESTS_AHEAD + last)
    assert answer.count(b"HTTP/1.1 200") == REQUESTS_AHEAD + 1


async def test_a_flood_of_requests_in_one_piece_is_not_kept(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of five thousand in one piece hardly more are read than may wait, and the connection is closed."""
    most, complete = [0], BoundedHttp.on_headers_complete

    def noted(self: BoundedHttp) -> None:
        try:
            complete(self)
        finally:
            most[0] = max(most[0], len(self.pipeline))

    monkeypatch.setattr(BoundedHttp, "on_headers_complete", noted)
    assert (await said(port, ASK * 5000)).count(b"HTTP/1.1 200") <= REQUESTS_AHEAD + 1
    assert 0 < most[0] <= REQUESTS_AHEAD + 1


@pytest.mark.parametrize(
    ("begin", "more"),
    [
        (b"GET /health HTTP/1.1\r\nHost: localhost\r\nX-Long: ", b"x" * 1000),
        (b"GET /health HTTP/1.1\r\nHost: localhost\r\n", b"X-Many: x\r\n" * 100),
        (b"GET /", b"x" * 1000),
        (CHUNKED + b"1;", b"extension" * 100),
        (CHUNKED + b"1\r\n{\r\n0\r\n", b"X-Trailer: x\r\n" * 100),
    ],
    ids=["one field", "many fields", "the path", "a chunk's extension", "trailers"],
)
async def test_what_never_ends_is_cut(port: int, begin: bytes, more: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a megabyte in pieces, without an end, hardly more than the bound for a head is taken."""
    taken, receive = [0], BoundedHttp.data_received

    def noted(self: BoundedHttp, data: bytes) -> None:
        taken[0] += len(data)
        receive(self, data)

    monkeypatch.setattr(BoundedHttp, "data_received", noted)
    answer = await said(port, begin, *[more] * 1000)
    assert b"HTTP/1.1 200" not in answer
    # What has come in one reading is taken as a whole, and asyncio reads at most 256 KiB at a time.
    assert HEAD_LIMIT < taken[0] <= HEAD_LIMIT + 2 * 256 * 1024


@pytest.mark.parametrize(
    "broken",
    [
        b"GET /health HTTP/1.1\r\nHost: localhost\r\nX: a\x00b\r\n\r\n",
        b"GET /health HTTP/1.1\r\nHost : localhost\r\n\r\n",
        b"GET /health HTTP/1.1\nHost: localhost\n\n",
        b"GET /cl\xc3\xb6ck HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /health HTTP/1.1\r\nHost: localhost\r\nX: a\r\n folded\r\n\r\n",
        b"POST /facts HTTP/1.1\r\nHost: localhost\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\n",
        b"POST /facts HTTP/1.1\r\nHost: localhost\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n",
        b"POST /facts HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nz\r\n",
        b"\x16\x03\x01\x02\x00",
    ],
    ids=[
        "a NUL in a field",
        "a space before the colon",
        "bare line feeds",
        "letters in the path",
        "a folded field",
        "two lengths",
        "length and chunks",
        "a chunk of no size",
        "a TLS hello",
    ],
)
async def test_what_is_not_http_is_refused(port: int, broken: bytes) -> None:
    """It is answered with 400 and closed, so nothing behind it is taken for a request (RFC 9112 §2.2, §3, §5, §6)."""
    answer = await said(port, broken + ASK)
    assert answer.startswith(b"HTTP/1.1 400 ")
    assert b"HTTP/1.1 200" not in answer
