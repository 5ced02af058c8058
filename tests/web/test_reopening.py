"""Reading over HTTP while the journal is opened again: all of it or an error, never a part that looks whole."""

from __future__ import annotations

import asyncio
import socket
import threading
import urllib.error
import urllib.request
from contextlib import closing
from http.client import HTTPResponse, IncompleteRead
from pathlib import Path
from unittest.mock import patch

import pytest

from core.samples import competition
from shell.journal_contract import draft
from shell.test_journal_full import Disk, held_on, until
from tallywire.shell.journal import reopening
from tallywire.shell.journal.holding import HoldingJournal
from tallywire.shell.own_server import OwnServer
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings

WHOLE = HTTPResponse.read


def made(folder: Path) -> Path:
    """Make a folder."""
    folder.mkdir()
    return folder


def read(server: Running) -> tuple[int, bytes]:
    """Ask for the recording, and give the status and what came."""
    asked = urllib.request.Request(f"{server.address}/recording")
    asked.add_header("Authorization", f"Bearer {server.live.keys.table}")
    try:
        with urllib.request.urlopen(asked, timeout=60) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as exc:
        with exc:
            return exc.code, exc.read()


async def lines_in(journal: HoldingJournal, count: int) -> None:
    """Append so many lines that are no facts: a recording shows them as they are."""
    drafts = [draft(number, body=b'{"number":%d}' % number, refusal=b"{}") for number in range(1, count + 1)]
    await journal.append(drafts, received_unix_ms=1)


async def check_that_a_read_waits(tmp_path: Path) -> None:
    """Ask while the file is closed to be opened anew; the server must give every line once it is open."""
    journal, _, _ = held_on(tmp_path / "journal.sqlite", Disk(4_000))
    settings = Settings(data=tmp_path, port=0)
    async with running(competition(), settings, open_journal=lambda _path: journal) as server:
        await lines_in(journal, 5)
        server.live.lines = 5
        await journal._close()
        asked = asyncio.create_task(asyncio.to_thread(read, server))
        await until(lambda: asked.done() or bool(journal._moved._waiters))  # type: ignore[attr-defined]
        assert not asked.done()
        await journal._reopen()
        status, text = await asked
        assert (status, [line[-2:] for line in text.splitlines()]) == (200, [b"%d}" % n for n in range(1, 6)])


async def test_a_read_waits_until_the_journal_is_open_again(tmp_path: Path) -> None:
    """It does; a journal whose readers do not wait fails the check."""
    await check_that_a_read_waits(made(tmp_path / "real"))
    with (
        patch.object(HoldingJournal, "_opens_again", lambda _self, _before: False),
        pytest.raises(AssertionError),
    ):
        await check_that_a_read_waits(made(tmp_path / "mutant"))


async def check_that_it_is_an_error(tmp_path: Path) -> None:
    """Ask while the file stays closed: after a while the answer must be 503 with the reason."""
    journal, _, _ = held_on(tmp_path / "journal.sqlite", Disk(4_000))
    settings = Settings(data=tmp_path, port=0)
    with patch.object(reopening, "READ_PATIENCE_S", 0.01):
        async with running(competition(), settings, open_journal=lambda _path: journal) as server:
            await lines_in(journal, 5)
            server.live.lines = 5
            await journal._close()
            status, text = await asyncio.to_thread(read, server)
            assert status == 503
            assert b"the journal is closed" in text


async def test_a_journal_that_stays_closed_is_an_error(tmp_path: Path) -> None:
    """It is no empty recording; a journal that says nothing of it fails the check."""
    await check_that_it_is_an_error(made(tmp_path / "real"))
    with patch.object(HoldingJournal, "read", lambda *_, **_of: iter(())), pytest.raises(AssertionError):
        await check_that_it_is_an_error(made(tmp_path / "mutant"))


def test_an_answer_that_breaks_off_is_an_error_of_the_connection() -> None:
    """A server that ends in the middle of its answer leaves no export that looks whole, and no traceback.

    One that takes what there is fails the check.
    """
    check_that_half_is_an_error()
    with patch.object(HTTPResponse, "read", taking_what_there_is), pytest.raises(pytest.fail.Exception):
        check_that_half_is_an_error()


def taking_what_there_is(answer: HTTPResponse) -> bytes:
    """Read an answer as if its end had come."""
    try:
        return WHOLE(answer)
    except IncompleteRead as exc:
        return exc.partial


def check_that_half_is_an_error() -> None:
    """Answer in part: whoever asked must get an error."""
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        broken = threading.Thread(target=_answer_in_part, args=(listener,))
        broken.start()
        with pytest.raises(OSError, match="its answer broke off"):
            OwnServer(address=f"http://127.0.0.1:{listener.getsockname()[1]}", key="key").get("/recording")
        broken.join()


def _answer_in_part(listener: socket.socket) -> None:
    connection, _ = listener.accept()
    with connection:
        connection.recv(4096)
        connection.sendall(b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nhal")
