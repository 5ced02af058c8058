"""The names a server answers to, in one process and on a real port of the loopback range."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient, WebSocketDenialResponse
from starlette.types import Receive, Scope, Send
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

from core.samples import competition
from tallywire.cli.main import main
from tallywire.web.hosts import OwnHosts
from tallywire.web.origin import origin_allowed
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from web.site import WATCH, Site, site

OURS = (
    "testserver",
    "TestServer:8400",
    "testserver.",
    "localhost:1",
    "127.0.0.1",
    "127.0.0.9:8400",
    "[::1]:8400",
    "[::ffff:127.0.0.1]",
    "scores.example",
    "192.0.2.7:80",
)
"""`testserver` is the address at which the client in the same process comes in; the last two are given."""
FOREIGN = (
    "elsewhere.example",
    "testserver.elsewhere.example",
    "localhost.elsewhere.example",
    "127.0.0.1.elsewhere.example",
    "scores.example.org",
    "192.0.2.8",
    "[2001:db8::1]",
    "0.0.0.0",
)
NO_HOSTS = ("", "elsewhere.example@localhost", "localhost/elsewhere", "localhost:port", "[::1", "localhost, elsewhere")


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site(settings=Settings(data=Path("unused"), allow_hosts=("Scores.example", "192.0.2.7"))) as made:
        yield made


@pytest.mark.parametrize("host", OURS)
def test_our_own_names_are_answered(server: Site, host: str) -> None:
    """Loopback names, the address of arrival and the names given open pages and wire, whatever the port or the case."""
    assert server.client.get("/health", headers={"Host": host}).status_code == 200
    with server.wire(WATCH, headers={"Host": host}) as talk:
        assert talk.hear()["type"] == "snapshot"


@pytest.mark.parametrize(
    ("origin", "host", "ours"),
    [
        ("https://scores.example", "scores.example:443", True),
        ("http://scores.example", "scores.example:80", True),
        ("https://scores.example:8400", "scores.example:8400", True),
        ("https://scores.example", "scores.example:444", False),
        ("http://scores.example", "scores.example:81", False),
        ("ftp://scores.example", "scores.example", False),
        ("null", "scores.example", False),
    ],
)
def test_a_page_of_our_own_host_may_open_the_wire(origin: str, host: str, ours: bool) -> None:
    """The ports of the schemes count where none is named. Source: RFC 6454, 4 and 5; RFC 9110, 4.2."""
    assert origin_allowed(Headers({"origin": origin, "host": host}), []) is ours


@pytest.mark.parametrize(
    ("text", "good"),
    [
        ("scores.example", True),
        ("192.0.2.7", True),
        ("[2001:db8::7]", True),
        ("scores.example:443", False),
        ("https://scores.example", False),
        ("", False),
        ("*", False),
    ],
)
def test_an_option_that_could_never_match_is_refused(text: str, good: bool, capsys: pytest.CaptureFixture[str]) -> None:
    """`--allow-host` takes a name or an address; with a scheme, a port or a star it says what was expected."""
    with pytest.raises(SystemExit):
        main(["serve", "--allow-host", text])
    assert ("expected a name or an address" in capsys.readouterr().err) != good


@pytest.mark.parametrize("path", ["/", "/health", "/snapshot/heat", "/recording", "/none"])
@pytest.mark.parametrize("host", FOREIGN)
def test_a_foreign_name_is_refused(server: Site, host: str, path: str) -> None:
    """Every route answers a foreign `Host` with 421 and one line that names the option. Source: RFC 9110 §15.5.20."""
    response = server.client.get(path, headers={"Host": host})
    assert response.status_code == 421
    assert response.json()["code"] == "foreign_host"
    assert response.json()["message"].endswith("allow it with --allow-host")
    assert response.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("host", NO_HOSTS)
def test_what_is_no_host_is_a_bad_request(server: Site, host: str) -> None:
    """A `Host` that is empty, a list or more than a name is answered with 400. Source: RFC 9112 §3.2."""
    assert server.client.get("/health", headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", FOREIGN)
def test_a_foreign_name_does_not_open_the_wire(server: Site, host: str) -> None:
    """A page whose name was turned to this machine has a matching `Origin`, and is refused all the same."""
    headers = {"Host": host, "Origin": f"http://{host}"}
    with pytest.raises(WebSocketDenialResponse) as denied, server.wire(headers=headers):
        pass
    assert denied.value.status_code == 421
    assert server.live.clients == 0


async def _answer(server: Running, request: str) -> bytes:
    """Send a request as it is and give the whole answer."""
    reader, writer = await asyncio.open_connection("127.0.0.1", int(server.address.rsplit(":", 1)[1]))
    writer.write(request.encode())
    answer = await asyncio.wait_for(reader.read(), 10)
    writer.close()
    await writer.wait_closed()
    return answer


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lines", "status"),
    [
        ("HTTP/1.1\r\nHost: 127.0.0.1", b"200"),
        ("HTTP/1.1\r\nHost: elsewhere.example", b"421"),
        ("HTTP/1.1\r\nHost: localhost\r\nHost: elsewhere.example", b"400"),
        ("HTTP/1.1\r\nX-Forwarded-Host: localhost\r\nHost: elsewhere.example", b"421"),
        ("HTTP/1.1\r\nX-Forwarded-Host: localhost", b"400"),
        ("HTTP/1.0", b"400"),
    ],
)
async def test_a_real_server_checks_the_header(tmp_path: Path, lines: str, status: bytes) -> None:
    """One own `Host` is answered; a foreign one, two, none, or one that a proxy's header names instead is not."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        answer = await _answer(server, f"GET /health {lines}\r\nConnection: close\r\n\r\n")
    assert answer.split(b" ")[1] == status


@pytest.mark.slow
async def test_host_and_origin_both_foreign_are_refused(tmp_path: Path) -> None:
    """A websocket client that comes under a foreign name with that name's origin gets 421 and one clear line."""
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        port = int(server.address.rsplit(":", 1)[1])
        with pytest.raises(InvalidStatus) as refused:
            async with connect(
                f"ws://elsewhere.example:{port}/wire",
                host="127.0.0.1",
                port=port,
                origin=f"http://elsewhere.example:{port}",  # type: ignore[arg-type]
            ):
                pass
    assert refused.value.response.status_code == 421
    assert b"--allow-host" in refused.value.response.body


@pytest.mark.parametrize(
    ("host", "came_in_at", "status"),
    [
        ("192.0.2.7:8400", "192.0.2.7", 200),
        ("192.0.2.7:8400", "::ffff:192.0.2.7", 200),
        ("[2001:DB8:0::7]", "2001:db8::7", 200),
        ("[fe80::7]", "fe80::7%eth0", 200),
        ("192.0.2.8:8400", "192.0.2.7", 421),
        ("0.0.0.0:8400", "192.0.2.7", 200),
        ("[::]:8400", "2001:db8::7", 421),
    ],
)
def test_a_server_on_all_addresses_knows_its_own(host: str, came_in_at: str, status: int) -> None:
    """Listening on all, a request is answered under the address at which it came in, however it is written.

    The address that stands for all is one as well: links that are printed have it, and only this machine can use it.
    """
    app = OwnHosts(PlainTextResponse("ours"), names=("0.0.0.0",))

    async def arrived(scope: Scope, receive: Receive, send: Send) -> None:
        await app({**scope, "server": (came_in_at, 8400)}, receive, send)

    assert TestClient(arrived).get("/", headers={"Host": host}).status_code == status
