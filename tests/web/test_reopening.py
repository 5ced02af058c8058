"""Reading over HTTP while the journal is opened again: all of it or an error, never a part that looks whole."""

from __future__ import annotations

import asyncio
import socket
import threading
import urllib.error
import urllib.request
from contextlib import closing
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


async def test_a_read_waits_until_the_journal_is_open_again(tmp_path: Path) -> None:
    """Asked while the file is closed to be opened anew, the server gives every line once it is open."""
    journal, _, _ = held_on(tmp_path / "journal.sqlite", Disk(4_000))
    settings = Settings(data=tmp_path, port=0)
    async with running(competition(), settings, open_journal=lambda _path: journal) as server:
        await lines_in(journal, 5)
        server.live.lines = 5
        await journal._close()
        asked = asyncio.create_task(asyncio.to_thread(read, server))
        await until(lambda: bool(journal._moved._waiters))  # type: ignore[attr-defined]
        assert not asked.done()
        await journal._reopen()
        status, text = await asked
        assert (status, [line[-2:] for line in text.splitlines()]) == (200, [b"%d}" % n for n in range(1, 6)])


async def test_a_journal_that_stays_closed_is_an_error(tmp_path: Path) -> None:
    """After a while the answer is 503 with the reason, not an empty recording."""
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


def test_an_answer_that_breaks_off_is_an_error_of_the_connection() -> None:
    """A server that ends in the middle of its answer leaves no export that looks whole, and no traceback."""
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
