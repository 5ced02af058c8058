"""Where one HTTP message ends and the next begins, and that each answer says what it is."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from core.samples import competition
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
        (f"{HEAD}Content-Length: 99\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n0\r\n\r\n", [200, 200]),
        (f"{HEAD}Content-Length: 3\r\nContent-Length: 4\r\n\r\nabc", [400]),
        (f"{HEAD}Content-Length: -1\r\n\r\n", [400]),
        (f"{HEAD}X: a\rb\r\n\r\n", [400]),
    ],
    ids=["plain", "chunked wins over length", "two lengths", "no length", "a bare CR"],
)
async def test_messages_end_where_the_standard_says(tmp_path: Path, request_text: str, statuses: list[int]) -> None:
    """What follows a message is read as the next one, and a head that is ambiguous ends the connection.

    Source: RFC 9112 §6.3 and §11.2; ASVS 5.0 4.2.1.
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
