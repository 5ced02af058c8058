"""The second copy has every acknowledged line, catches up by itself, and never delays or stops the first."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from unittest.mock import patch

import pytest

from shell.journal_contract import JournalContract, append, draft
from shell.journal_faults import PATIENCE_S, Hold, held_connection
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal import mirror
from tallywire.shell.journal.mirror import MirroredJournal
from tallywire.shell.journal.port import Journal
from tallywire.shell.journal.reading import look, sound_lines
from tallywire.shell.journal.sqlite import SqliteJournal


class TestMirroredJournal(JournalContract):
    async def open_journal(self, place: Path) -> Journal:
        """Open a journal with a mirror beside it."""
        return MirroredJournal(SqliteJournal.open(place / "own"), place / "copy")


@asynccontextmanager
async def mirrored(
    folder: Path, factory: type[sqlite3.Connection] = sqlite3.Connection
) -> AsyncIterator[MirroredJournal]:
    """Give a journal with its mirror, both closed in the end."""
    own = SqliteJournal.open(folder / "own")
    try:
        journal = MirroredJournal(own, folder / "copy", factory=factory)
    except JournalFailed:
        await own.close()
        raise
    try:
        yield journal
    finally:
        await journal.close()


async def copied(journal: MirroredJournal, count: int) -> None:
    """Wait until the mirror has this many lines."""
    for _ in range(int(PATIENCE_S * 1000)):
        if journal.copied >= count:
            return
        await asyncio.to_thread(journal._closing.wait, 0.001)
    raise AssertionError(f"found {journal.copied} lines copied, expected {count}")


async def test_the_copy_is_the_journal_line_by_line(tmp_path: Path) -> None:
    """Lines, times, refusals, notes and chain are the same, also of what was there before the mirror was."""
    own = SqliteJournal.open(tmp_path / "own")
    await own.append([draft(1), draft(2, refusal=b"{}")], received_unix_ms=1)
    await own.close()
    async with mirrored(tmp_path) as journal:
        journal.set_note("mode", "live")
        await journal.append([draft(3)], received_unix_ms=2)
        await journal.append([draft(4)], received_unix_ms=3)
        await copied(journal, 4)
    assert sound_lines(tmp_path / "copy") == sound_lines(tmp_path / "own")
    assert look(tmp_path / "copy").head == look(tmp_path / "own").head


async def test_a_mirror_that_waits_delays_no_acknowledgement(tmp_path: Path) -> None:
    """While the mirror's commit hangs, appends are acknowledged; once it goes on it has them all."""
    hold = Hold()
    async with mirrored(tmp_path, held_connection(hold)) as journal:
        for number in range(1, 21):
            await append(journal, draft(number))
        assert journal.copied == 0
        hold.release.set()
        await copied(journal, 20)


async def test_a_mirror_that_fails_is_opened_again_and_catches_up(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """An error of the second disk is logged and stops nothing; when the disk is back nothing is missing."""
    hold = Hold()
    hold.release.set()
    with patch.object(mirror, "RETRY_S", 0.001):
        async with mirrored(tmp_path, held_connection(hold)) as journal:
            await append(journal, draft(1))
            await copied(journal, 1)
            hold.fault = sqlite3.OperationalError("disk I/O error")
            for number in range(2, 11):
                await append(journal, draft(number))
            while not any("disk I/O error" in record.getMessage() for record in caplog.records):
                await asyncio.to_thread(journal._closing.wait, 0.001)
            hold.fault = None
            await copied(journal, 10)
    assert sound_lines(tmp_path / "copy").lines == sound_lines(tmp_path / "own").lines


async def test_a_copy_of_another_journal_is_refused(tmp_path: Path) -> None:
    """A mirror with other lines is left alone."""
    for name, sender in (("own", "pad-1"), ("copy", "pad-2")):
        journal = SqliteJournal.open(tmp_path / name)
        await append(journal, draft(1, sender=sender))
        await journal.close()
    with pytest.raises(JournalFailed, match=r"found another journal in the mirror .*: choose a new --mirror"):
        async with mirrored(tmp_path):
            pass


async def test_a_journal_that_has_less_than_its_copy_is_damage(tmp_path: Path) -> None:
    """A journal and seal that were both lost are noticed by the mirror, and it can take their place."""
    async with mirrored(tmp_path) as journal:
        await append(journal, draft(1), draft(2))
        await copied(journal, 2)
    for name in ("own", "own.seal"):
        (tmp_path / name).unlink()
    with pytest.raises(JournalDamaged, match=r"found 2 lines in the mirror .*, more than in the journal"):
        async with mirrored(tmp_path):
            pass
    own = SqliteJournal.open(tmp_path / "copy")
    assert [line.sequence for line in own.read()] == [1, 2]
    await own.close()


async def test_a_mirror_whose_disk_fails_at_the_start_is_named(tmp_path: Path) -> None:
    """SQLite's error at the first copying ends in one message with the way on, and the journal is as it was."""
    async with mirrored(tmp_path) as journal:
        await append(journal, draft(1))
    hold = Hold(fault=sqlite3.OperationalError("disk I/O error"))
    hold.release.set()
    own = SqliteJournal.open(tmp_path / "own")
    await append(own, draft(2))
    with pytest.raises(JournalFailed, match=r"cannot bring the mirror .*copy up to date \(disk I/O error\)"):
        MirroredJournal(own, tmp_path / "copy", factory=held_connection(hold))
    await own.close()
