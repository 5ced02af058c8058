"""Polls that a connection answers itself: the same answer as by the long way, and that for all that is not plain."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from core.samples import Pad, competition
from tallywire.web.polls import Poll, Polls
from tallywire.web.serving import running
from tallywire.web.settings import Settings

ROWS = "/v1/heats/floor/heat/rows.json"


@dataclass
class Asker:
    """A connection to a running server, and how often one of its polls took which way."""

    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter
    live: Any
    short: list[bool]
    polled: list[Poll]

    async def ask(self, path: str, *fields: str, method: str = "GET", host: str = "localhost") -> tuple[str, bytes]:
        """Ask once, and give the head of the answer without its date, sorted, and the body."""
        head = [f"{method} {path} HTTP/1.1", f"Host: {host}", *fields]
        self.writer.write("\r\n".join([*head, "", ""]).encode())
        lines = (await self.reader.readuntil(b"\r\n\r\n")).decode().splitlines()
        size = [int(line.split(":")[1]) for line in lines if line.startswith("content-length")]
        body = await self.reader.readexactly(size[0]) if size and method != "HEAD" else b""
        assert any(line.startswith("date: ") for line in lines), "RFC 9110 §6.6.1: a server with a clock says it"
        return "\n".join([lines[0], *sorted(line for line in lines[1:] if not line.startswith("date"))]), body

    async def ask_by(self, path: str, *fields: str, **how: Any) -> tuple[bool, str, bytes]:
        """The same, with whether the connection answered it."""
        self.short.clear()
        head, body = await self.ask(path, *fields, **how)
        return self.short == [True], head, body


@pytest.fixture
async def asker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Asker]:
    """A client of a heat that has begun, whose rows were asked for once."""
    short, polled, answer = list[bool](), list[Poll](), Polls.answer

    def noted(self: Polls, poll: Poll, **fields: Any) -> bytes | None:
        polled.append(poll)
        found = answer(self, poll, **fields)
        short.append(found is not None)
        return found

    monkeypatch.setattr(Polls, "answer", noted)
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        server.live.play([Pad("starter").start(), Pad("lane-1-a", 1).reps(1000)])
        reader, writer = await asyncio.open_connection("127.0.0.1", int(server.address.rsplit(":", 1)[1]))
        yield Asker(reader, writer, server.live, short, polled)
        writer.close()


async def test_both_ways_give_the_same_answer(asker: Asker) -> None:
    """Whole and unchanged, of rows, frame and CSV: what the connection answers is what the middlewares would."""
    for form in ("rows.json", "frame.json", "rows.csv"):
        path = f"/v1/heats/floor/heat/{form}"
        first_short, head, body = await asker.ask_by(path)
        tag = next(line for line in head.splitlines() if line.startswith("etag: ")).removeprefix("etag: ")
        assert (first_short, head.splitlines()[0]) == (False, "HTTP/1.1 200 OK")
        assert await asker.ask_by(path) == (True, head, body)
        assert await asker.ask_by(path, 'If-None-Match: "' + "0" * 32 + '"') == (True, head, body)
        by_short, *same = await asker.ask_by(path, f"If-None-Match: {tag}", "User-Agent: x", "Connection: keep-alive")
        by_long, *other = await asker.ask_by(path, f"If-None-Match: {tag}", "X-Any: x")
        assert (by_short, by_long) == (True, False)
        assert same == other
        assert same[0].startswith("HTTP/1.1 304")  # type: ignore[attr-defined]


async def test_a_tap_is_in_the_next_answer(asker: Asker) -> None:
    """What is kept is dropped with the next change."""
    await asker.ask(ROWS)
    asker.live.play([Pad("lane-2-a", 2).reps(2000)])
    await asyncio.sleep(0.3)
    is_short, head, body = await asker.ask_by(ROWS)
    assert (is_short, head.splitlines()[0]) == (True, "HTTP/1.1 200 OK")
    assert body.count(b'"done":1') == 2


@pytest.mark.parametrize(
    ("path", "fields", "how", "status"),
    [
        (ROWS, (), {"host": "elsewhere.example"}, 421),
        (ROWS, ("Host: localhost",), {}, 400),
        (ROWS, (), {"host": "a b"}, 400),
        (ROWS, ("Origin: https://foreign.example",), {}, 200),
        (ROWS, ("Authorization: Bearer nonsense",), {}, 200),
        (ROWS, ("If-None-Match: *",), {}, 304),
        (ROWS, ("Connection: close",), {}, 200),
        (ROWS, ("Content-Length: 0",), {}, 200),
        (ROWS, ("Accept: " + "x" * 20_000,), {}, 431),
        (ROWS, (), {"method": "HEAD"}, 200),
        (ROWS, (), {"method": "POST"}, 405),
        (ROWS + "?at=1", (), {}, 200),
        ("/v1/heats/floor/table/rows.json", (), {}, 401),
    ],
)
async def test_what_is_not_plain_goes_the_long_way(
    asker: Asker, path: str, fields: tuple[str, ...], how: dict[str, str], status: int
) -> None:
    """Foreign and doubled hosts, keys, other pages, bodies, long heads and other methods: middlewares and routes."""
    await asker.ask(ROWS)
    is_short, head, _ = await asker.ask_by(path, *fields, **how)
    assert (is_short, int(head.split()[1])) == (False, status)


async def test_a_poll_behind_another_request_waits_for_its_turn(asker: Asker) -> None:
    """Two requests in one piece are answered in their order (RFC 9112 §9.3.2), though a poll alone is quicker."""
    await asker.ask(ROWS)
    assert (await asker.ask_by(ROWS))[0]
    asker.short.clear()
    asker.writer.write(
        b"".join(b"GET %s HTTP/1.1\r\nHost: localhost\r\n\r\n" % path for path in (b"/ready", ROWS.encode()))
    )
    heads = []
    for _ in range(2):
        heads.append((await asker.reader.readuntil(b"\r\n\r\n")).decode())
        await asker.reader.readexactly(int(heads[-1].partition("content-length: ")[2].split()[0]))
    assert ["etag" in head for head in heads] == [False, True]
    assert not any(asker.short)


async def test_who_asks_too_fast_is_for_the_turnstile(asker: Asker) -> None:
    """The allowance of an address holds for polls as well: whoever has none left waits for it as for anything else."""
    await asker.ask(ROWS)
    assert (await asker.ask_by(ROWS))[0]
    requests, later = asker.polled[-1].visit.caller.requests, asyncio.get_running_loop().time() + 60
    left = 0
    # Emptied in a time to come: until the poll has arrived, nothing flows back.
    while requests.spend(later):
        left += 1
    assert left > 100
    is_short, head, _ = await asker.ask_by(ROWS)
    assert (is_short, head.splitlines()[0]) == (False, "HTTP/1.1 200 OK")
