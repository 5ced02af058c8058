"""Behind a trusted proxy each client has its own bounds; a header of anybody else says nothing."""

from __future__ import annotations

from contextlib import AsyncExitStack
from pathlib import Path

import orjson
import pytest
from starlette.types import Receive, Scope, Send
from websockets.asyncio.client import connect

from core.samples import competition
from tallywire.web.admission import CALLER, VISIT, Admission, Presence
from tallywire.web.bounds import Bounds
from tallywire.web.forwarded import Forwarded
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from web.test_bounds import SMALL, ended, heard, pad_hello, port_of
from wire.talk import text

PROXY, STRANGER = "127.0.0.5", "198.51.100.9"


async def turned_away(server: Running, address: str, forwarded: list[str]) -> list[int]:
    """Watch once for each of these headers, all from one address, and give the close codes of those turned away."""
    codes, where = [], f"ws://127.0.0.1:{port_of(server)}/wire"
    async with AsyncExitStack() as stack:
        for each in forwarded:
            opening = connect(
                where, compression=None, local_addr=(address, 0), additional_headers={"X-Forwarded-For": each}
            )
            watcher = await stack.enter_async_context(opening)
            await watcher.send(text(type="watch", view="heat"))
            if orjson.loads(await watcher.recv())["type"] == "error":
                codes.append((await ended(watcher))[0])
    return codes


@pytest.mark.slow
async def test_watchers_behind_a_proxy_are_bounded_each(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Four of one client may watch, and those of others besides; from another address, or untrusted, all are one."""
    monkeypatch.setattr(Settings, "bounds", SMALL)
    one, many = [STRANGER] * 6, [f"192.0.2.{n}" for n in range(1, 7)]
    async with running(competition(), Settings(data=tmp_path / "a", port=0, trusted_proxies=(PROXY,))) as server:
        assert await turned_away(server, PROXY, one) == [1013, 1013]
        assert await turned_away(server, PROXY, many) == []
        assert await turned_away(server, PROXY, [f"{each}, {STRANGER}" for each in many]) == [1013, 1013]
        assert await turned_away(server, "127.0.0.6", many) == [1013, 1013]
    async with running(competition(), Settings(data=tmp_path / "b", port=0)) as server:
        assert await turned_away(server, PROXY, many) == [1013, 1013]


@pytest.mark.slow
async def test_crew_behind_a_proxy_comes_in_beside_strangers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stranger who opens the wire again and again behind the proxy pushes out its own connections, and no pad."""
    monkeypatch.setattr(Settings, "bounds", SMALL)
    settings = Settings(data=tmp_path, port=0, trusted_proxies=(PROXY,))
    async with running(competition(), settings) as server, AsyncExitStack() as stack:
        where = f"ws://127.0.0.1:{port_of(server)}/wire"

        def behind(client: str) -> connect:
            headers = {"X-Forwarded-For": client}
            return connect(where, compression=None, local_addr=(PROXY, 0), additional_headers=headers)

        pad = await stack.enter_async_context(behind("192.0.2.1"))
        for _ in range(12):
            await stack.enter_async_context(behind(STRANGER))
        await pad.send(pad_hello(server, "lane-1-a"))
        assert (await heard(pad, "welcome"))["role"] == "lane"


async def test_requests_through_a_proxy_are_their_clients() -> None:
    """Each request of one connection counts with the address that it came from; what cannot be read is the proxy's."""
    seen: list[Scope] = []

    async def app(scope: Scope, _receive: Receive, _send: Send) -> None:
        seen.append(scope)

    admission = Admission(Bounds(), proxies=[PROXY])
    visit = admission.walk_in(PROXY)
    for header in ("192.0.2.1", "10.0.0.1, 192.0.2.2", "[2001:db8::7]", "unknown", None):
        fields = [] if header is None else [(b"x-forwarded-for", header.encode())]
        scope = {"type": "http", "state": {VISIT: visit}, "headers": fields, "client": (PROXY, 1)}
        await Forwarded(app, admission=admission)(scope, None, None)  # type: ignore[arg-type]
    assert [scope["client"][0] for scope in seen] == ["192.0.2.1", "192.0.2.2", "2001:db8::7", PROXY, PROXY]
    callers = [scope["state"].get(CALLER, visit.caller) for scope in seen]
    assert len(set(map(id, callers))) == 4
    assert visit.caller.count(Presence.NEWCOMER) == 1
    assert admission.passing("192.0.2.1") is callers[0]
