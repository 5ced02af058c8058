"""The SQLite journal: the contract, and what is particular to a file."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from shell.journal_contract import DurableJournalContract, append, draft, numbers
from shell.journal_faults import Unsynced
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal.chain import GENESIS, chained
from tallywire.shell.journal.lock import lock_path
from tallywire.shell.journal.port import Journal, Line
from tallywire.shell.journal.sqlite import SqliteJournal


class TestSqliteJournal(DurableJournalContract):
    async def open_journal(self, place: Path) -> Journal:
        """Open the same file each time."""
        return SqliteJournal.open(place / "heats.journal")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the path of a journal that is not there yet."""
    return tmp_path / "heats.journal"


async def written(path: Path, *, count: int = 3) -> list[Line]:
    """Make a closed journal with `count` lines and a note."""
    journal = SqliteJournal.open(path)
    lines = list(await append(journal, *(draft(n) for n in range(1, count + 1))))
    journal.set_note("mode", "live")
    await journal.close()
    return lines


def tamper(path: Path, script: str) -> None:
    """Run SQL on the file as another program would."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.executescript(script)


@pytest.mark.parametrize(
    "script",
    [
        "UPDATE line SET body = x'00' WHERE number = 2",
        "DELETE FROM line WHERE number = 3",
        "DELETE FROM line",
        "INSERT INTO line VALUES (5, 0, 'pad-1', 5, x'', NULL, x'')",
        "INSERT INTO line VALUES (0, 0, 'pad-1', 5, x'', NULL, x'')",
        "INSERT INTO line VALUES (NULL, 0, 'pad-1', 5, x'', NULL, x'')",
        "REPLACE INTO line VALUES (3, 0, 'pad-1', 5, x'', NULL, x'')",
        "REPLACE INTO line VALUES (4, 0, 'pad-1', 3, x'', NULL, x'')",
        "INSERT INTO line VALUES (4, 0, 'pad-1', 4, 'text', NULL, x'')",
        "UPDATE note SET value = 'rehearsal'",
        "DELETE FROM note",
        "REPLACE INTO note VALUES ('mode', 'rehearsal', x'')",
    ],
)
async def test_the_file_itself_refuses_changes(path: Path, script: str) -> None:
    """Whatever program opens the file, lines and notes can be neither changed, removed, replaced nor misnumbered."""
    lines = await written(path)
    with pytest.raises(sqlite3.IntegrityError):
        tamper(path, script)
    journal = SqliteJournal.open(path)
    assert list(journal.read()) == lines
    assert journal.note("mode") == "live"
    await journal.close()


async def test_a_line_that_another_program_adds_is_taken_by_the_file_and_found_by_the_seal(path: Path) -> None:
    """The triggers refuse only what is wrong; the seal tells a line that came in while the journal was closed."""
    lines = await written(path)
    head = GENESIS
    for line in [*lines, following := draft(4).as_line(4, received_unix_ms=0)]:
        head = chained(head, line)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("INSERT INTO line VALUES (?, ?, ?, ?, ?, ?, ?)", (*following, head))
    with pytest.raises(JournalDamaged, match="line 4 added: 3 lines were sealed at the end"):
        SqliteJournal.open(path)


async def test_an_unknown_schema_version_is_refused(path: Path) -> None:
    """A journal of another release is refused with both versions named, and left as it is."""
    await written(path)
    tamper(path, "PRAGMA user_version = 7")
    with pytest.raises(JournalFailed, match="version 7, expected 1 or 2: open it with the release"):
        SqliteJournal.open(path)
    tamper(path, "PRAGMA user_version = 2")
    await SqliteJournal.open(path).close()


def test_another_programs_database_is_left_alone(path: Path) -> None:
    """An SQLite file that is not a journal is refused and not changed by a byte."""
    tamper(path, "CREATE TABLE song (title TEXT)")
    before = path.read_bytes()
    with pytest.raises(JournalFailed, match="another program's SQLite file, expected a journal: choose another path"):
        SqliteJournal.open(path)
    assert path.read_bytes() == before


def test_a_file_that_is_no_database_is_refused(path: Path) -> None:
    """A file of another kind is refused with its path named and SQLite's error as the cause."""
    path.write_text("not a database, but long enough to look at " * 100)
    with pytest.raises(JournalFailed, match=r"cannot open the journal .*heats\.journal") as caught:
        SqliteJournal.open(path)
    assert isinstance(caught.value.__cause__, sqlite3.DatabaseError)


def test_a_folder_that_is_missing_is_refused(tmp_path: Path) -> None:
    """A journal in a folder that is not there is refused with the remedy."""
    with pytest.raises(JournalFailed, match="expected a folder to write in"):
        SqliteJournal.open(tmp_path / "missing" / "heats.journal")


def test_a_connection_that_does_not_sync_is_refused(path: Path) -> None:
    """Opening fails when the commits would not be synced."""
    with pytest.raises(JournalFailed, match=r"expected \('wal', 2\)"):
        SqliteJournal.open(path, factory=Unsynced)


async def test_a_second_opener_is_refused_until_the_first_closes(path: Path) -> None:
    """While a journal is open a second opening, even by a symbolic link, is refused with the holder named."""
    link = path.with_name("link.journal")
    link.symlink_to(path)
    first = SqliteJournal.open(path)
    for name in (path, link):
        with pytest.raises(JournalFailed, match=rf"in use by process {os.getpid()}, expected .*: stop that process"):
            SqliteJournal.open(name)
    assert numbers(await append(first, draft(1))) == [1]
    await first.close()
    await SqliteJournal.open(link).close()


async def test_the_lock_file_stays(path: Path) -> None:
    """Closing leaves the lock file in its place: removing it would let two openers in."""
    await written(path)
    assert lock_path(path).exists()


async def test_another_program_is_kept_out_while_the_journal_is_open(path: Path) -> None:
    """No other program can read or write the file while the journal is open: two connections can corrupt it."""
    journal = SqliteJournal.open(path)
    with closing(sqlite3.connect(path, timeout=0)) as other, pytest.raises(sqlite3.OperationalError, match="locked"):
        other.execute("SELECT count(*) FROM line")
    await journal.close()
