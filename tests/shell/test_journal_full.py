"""A full disk holds the journal: nothing acknowledged is lost or doubled, and it goes on when there is room."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path
from unittest.mock import patch

import pytest

from shell.journal_contract import NOW, JournalContract, append, draft
from tallywire.core.errors import JournalFailed, JournalFull
from tallywire.shell.journal.holding import RESERVE_BYTES, HoldingJournal, Room
from tallywire.shell.journal.port import Draft, Journal, Line
from tallywire.shell.journal.reading import sound_lines
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.storage import HELD, LOW, OK, Storage, StorageState


class TestHoldingJournal(JournalContract):
    async def open_journal(self, place: Path) -> Journal:
        """Open a journal that holds."""
        return HoldingJournal(place / "heats.journal", storage=Storage())


class Disk:
    """A disk of so many pages for the database: SQLite itself says when it is full, and `pages` may grow."""

    def __init__(self, pages: int) -> None:
        self.pages = pages
        self.has_reserve = True
        self.handles = 0
        self.after_commit: Exception | None = None
        self.used_after_failing = False

    def open(self, path: Path) -> SqliteJournal:
        """Open a journal on this disk."""
        self.handles += 1
        return SqliteJournal.open(path, factory=self._connection())

    def _connection(self) -> type[sqlite3.Connection]:
        disk = self

        class OnDisk(sqlite3.Connection):
            failed = False

            def execute(self, sql: str, parameters: Sequence[object] = (), /) -> sqlite3.Cursor:  # type: ignore[override]
                if not sql.startswith("INSERT INTO line"):
                    return super().execute(sql, parameters)
                disk.used_after_failing = disk.used_after_failing or self.failed
                super().execute(f"PRAGMA max_page_count = {disk.pages}")
                try:
                    done = super().execute(sql, parameters)
                    if disk.after_commit is not None:
                        raise disk.after_commit
                except Exception:
                    self.failed = True
                    raise
                return done

        return OnDisk


class FakeRoom(Room):
    """What a disk says of its room, without files."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        self.room, self.ample = True, False

    def is_there(self) -> bool:
        """There is, until the test says otherwise."""
        return self.room

    def make_reserve(self) -> bool:
        """Lay it down when there is room."""
        self._disk.has_reserve = self._disk.has_reserve or self.ample
        return self._disk.has_reserve

    def give_reserve(self) -> bool:
        """Give it: the disk has ten pages more."""
        had, self._disk.has_reserve = self._disk.has_reserve, False
        self._disk.pages += 10 if had else 0
        self.room = had
        return had


def held_on(path: Path, disk: Disk) -> tuple[HoldingJournal, Storage, FakeRoom]:
    """Open a holding journal on a disk."""
    storage, room = Storage(), FakeRoom(disk)
    return HoldingJournal(path, storage=storage, open_journal=disk.open, room=room, look_s=0.001), storage, room


async def until(true: Callable[[], bool]) -> None:
    """Let other tasks and threads run until it is true."""
    for _ in range(20_000):
        if true():
            return
        await asyncio.to_thread(lambda: None)
    raise AssertionError("it did not come about")


async def fill(journal: HoldingJournal, storage: Storage) -> tuple[list[Line], asyncio.Task[Sequence[Line]]]:
    """Append until an append waits; give what was acknowledged, and the one that waits."""
    answered: list[Line] = []
    for number in range(1, 2_000):
        one = asyncio.create_task(append(journal, draft(number, body=b"x" * 900)))
        await until(lambda: one.done() or storage.now == HELD)  # noqa: B023
        if not one.done():
            return answered, one
        answered += await one
    raise AssertionError("the disk never filled")


async def test_a_full_disk_holds_and_goes_on_when_there_is_room(tmp_path: Path) -> None:
    """First the reserve is used, then nothing is acknowledged, then all is taken; each line is there once, in order."""
    path, disk = tmp_path / "heats.journal", Disk(40)
    journal, storage, room = held_on(path, disk)
    told: list[StorageState] = []
    storage.subscribe("test", told.append)
    answered, waits = await fill(journal, storage)
    assert told == [LOW, HELD]
    await until(lambda: disk.handles == 3 and journal._is_open)
    assert list(journal.read()) == answered, "what is held can be read meanwhile"
    later = asyncio.create_task(append(journal, draft(5_000)))
    await until(lambda: later.done() or not journal._one.locked() or disk.handles == 3)
    assert not waits.done()
    assert not later.done()
    disk.pages, room.room, room.ample = 4_000, True, True
    answered += [*await waits, *await later]
    for number in range(5_001, 5_400):
        answered += await append(journal, draft(number))
    assert told[:3] == [LOW, HELD, LOW]
    assert told[-1] == OK
    assert not disk.used_after_failing
    await journal.close()
    assert sound_lines(path).lines == answered


async def test_a_commit_that_failed_after_it_was_written_is_not_written_again(tmp_path: Path) -> None:
    """When the disk holds what the failed handle would not confirm, that is the answer, once.

    A journal that writes it again without looking fails the check.
    """
    await check_that_it_is_written_once(tmp_path / "real.journal")

    async def blindly(journal: HoldingJournal, drafts: Sequence[Draft], received: int) -> Sequence[Line]:
        return await journal._inner.append(drafts, received_unix_ms=received)

    with patch.object(HoldingJournal, "_again", blindly), pytest.raises(JournalFailed, match="already used"):
        await check_that_it_is_written_once(tmp_path / "mutant.journal")


async def check_that_it_is_written_once(path: Path) -> None:
    """Have a commit written and then reported as failed."""
    disk = Disk(4_000)
    journal, _, _ = held_on(path, disk)
    full = sqlite3.OperationalError("database or disk is full")
    full.sqlite_errorcode = sqlite3.SQLITE_FULL
    disk.after_commit = full
    one = asyncio.create_task(append(journal, draft(1), draft(2)))
    await until(lambda: disk.handles > 1 or one.done())
    disk.after_commit = None
    lines = await one
    assert [line.number for line in lines] == [1, 2]
    await journal.close()
    assert sound_lines(path).lines == list(lines)


async def test_a_server_that_stops_waits_no_longer(tmp_path: Path) -> None:
    """Asked to give up, an append that waits fails with what to do, and what was acknowledged is there."""
    path, disk = tmp_path / "heats.journal", Disk(40)
    journal, storage, _ = held_on(path, disk)
    answered, waits = await fill(journal, storage)
    storage.give_up()
    with pytest.raises(JournalFull, match=r"found no room on the disk .*: free some, and start again"):
        await waits
    await journal.close()
    assert sound_lines(path).lines == answered


async def test_any_other_error_is_not_waited_for(tmp_path: Path) -> None:
    """A disk that cannot write, as against one that is full, stops the journal at once."""
    disk = Disk(4_000)
    journal, storage, _ = held_on(tmp_path / "heats.journal", disk)
    disk.after_commit = sqlite3.OperationalError("disk I/O error")
    with pytest.raises(JournalFailed, match="disk I/O error"):
        await append(journal, draft(1))
    assert (storage.now, disk.handles) == (OK, 1)
    await journal.close()


def test_who_joins_while_it_is_held_is_told_at_once() -> None:
    """A subscriber hears the present state unless it is ok, then each change, until it leaves."""
    storage = Storage()
    first: list[StorageState] = []
    second: list[StorageState] = []
    storage.subscribe("first", first.append)
    storage.change(HELD)
    storage.change(HELD)
    storage.subscribe("second", second.append)
    storage.unsubscribe("first")
    storage.change(OK)
    assert first == [HELD]
    assert second == [HELD, OK]


def test_the_reserve_is_real_room(tmp_path: Path) -> None:
    """The reserve takes blocks of the disk, is given once, and can be laid down again."""
    room = Room(tmp_path)
    assert room.make_reserve()
    assert (tmp_path / "reserve").stat().st_blocks * 512 >= RESERVE_BYTES
    assert room.is_there()
    assert [each.name for each in tmp_path.iterdir()] == ["reserve"]
    assert room.give_reserve()
    assert not room.give_reserve()
    assert room.make_reserve()


async def test_a_handle_that_failed_and_is_used_again_is_noticed(tmp_path: Path) -> None:
    """The check above is able to fail: a journal that writes again on the failed handle is found."""
    disk = Disk(40)
    connection = disk._connection()
    journal = SqliteJournal.open(tmp_path / "heats.journal", factory=connection)
    with pytest.raises(JournalFull):
        for number in range(1, 2_000):
            await journal.append([draft(number, body=b"x" * 900)], received_unix_ms=NOW)
    await journal.close()
    with sqlite3.connect(tmp_path / "heats.journal", factory=connection) as handle:
        for _ in range(2):
            with pytest.raises(sqlite3.Error):
                handle.execute("INSERT INTO line VALUES (1)")
    handle.close()
    assert disk.used_after_failing
