"""Journals of every version there was open, with every fact: the files in `golden` were written by those releases."""

from __future__ import annotations

import shutil
import sqlite3
import stat
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

import pytest

from shell.journal_contract import append, draft
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal import schema
from tallywire.shell.journal.reading import look
from tallywire.shell.journal.schema import SCHEMA_VERSION, VERSIONS
from tallywire.shell.journal.seal import read_seal, seal_path
from tallywire.shell.journal.sqlite import SqliteJournal

GOLDEN = Path(__file__).with_name("golden")
FIRST = (
    b'{"fact":"heat_started","id":"table-a.1","heat":"h1","at_ms":0,"sender":"table-a","sequence":1,'
    b'"unix_ms":1800000000000}'
)


def golden(folder: Path, version: int) -> Path:
    """Copy a golden journal, with its seal if that version had one."""
    for each in GOLDEN.glob(f"journal-{version}.sqlite*"):
        shutil.copy(each, folder / each.name.replace(f"-{version}", ""))
    return folder / "journal.sqlite"


def version_in(path: Path) -> int:
    """Ask SQLite for the version of a file."""
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def test_there_is_a_golden_file_of_every_version() -> None:
    """No version is read without a file that its own release wrote."""
    assert [version_in(GOLDEN / f"journal-{version}.sqlite") for version in VERSIONS] == list(VERSIONS)


@pytest.mark.parametrize("version", VERSIONS)
async def test_a_journal_of_every_version_opens_with_every_fact(tmp_path: Path, version: int) -> None:
    """Lines, refusals, notes and times are as they were written; the file is of the present version and goes on."""
    path = golden(tmp_path, version)
    journal = SqliteJournal.open(path)
    lines = list(journal.read())
    assert [line.number for line in lines] == list(range(1, 10))
    assert lines[0].body == FIRST
    assert [line.received_unix_ms - 1_800_000_000_000 for line in lines] == [*range(8), 100]
    assert [line.sender for line in lines] == ["table-a", *["lane-1-a"] * 8]
    assert lines[8].refusal == b'{"code":"fact_refused","message":"found heat h9, expected one of h1"}'
    assert (journal.note("mode"), journal.note("competition")) == ("live", "Practice Trials")
    await append(journal, draft(9, sender="lane-1-a"))
    await journal.close()
    assert version_in(path) == SCHEMA_VERSION
    found = look(path)
    assert (found.faults, found.last) == ([], 10)


def test_every_version_has_the_same_chain(tmp_path: Path) -> None:
    """A journal that is brought up to date has the chain it would have had: an older copy beside its seal is known."""
    (tmp_path / "other").mkdir()
    old, new = golden(tmp_path, 1), golden(tmp_path / "other", 2)
    assert look(old).head == look(new).head


def test_looking_at_an_old_journal_leaves_it_old(tmp_path: Path) -> None:
    """Only opening a journal to write brings it up to date."""
    path = golden(tmp_path, 1)
    before = path.read_bytes()
    assert look(path).faults == []
    assert path.read_bytes() == before


async def test_a_crash_on_the_way_to_the_present_version_leaves_the_old_one(tmp_path: Path) -> None:
    """Lines are brought over in one transaction; when it breaks off, the file is of version 1 and opens again."""
    path = golden(tmp_path, 1)
    broken = patch.object(schema, "note_check", side_effect=sqlite3.OperationalError("gone"))
    with broken, pytest.raises(JournalFailed, match="gone"):
        SqliteJournal.open(path)
    assert version_in(path) == 1
    journal = SqliteJournal.open(path)
    assert len(list(journal.read())) == 9
    await journal.close()


async def test_an_old_copy_beside_a_newer_seal_is_found(tmp_path: Path) -> None:
    """A journal of version 1 that took the place of one with more lines is damage, like any missing tail."""
    journal = SqliteJournal.open(path := golden(tmp_path, 1))
    await append(journal, draft(9, sender="lane-1-a"))
    await journal.close()
    shutil.copy(GOLDEN / "journal-1.sqlite", path)
    with pytest.raises(JournalDamaged, match="line 10 missing: 10 were sealed"):
        SqliteJournal.open(path)


def modes_in(folder: Path) -> dict[str, int]:
    """Give the permissions of every file in a folder."""
    return {each.name: stat.S_IMODE(each.stat().st_mode) for each in folder.iterdir()}


async def test_nobody_else_may_read_the_files(tmp_path: Path) -> None:
    """Journal, log, seal and lock are the owner's alone while it is open, also those that were made more open."""
    path = golden(tmp_path, 2)
    path.chmod(0o644)
    seal_path(path).chmod(0o644)
    journal = SqliteJournal.open(path)
    await append(journal, draft(9, sender="lane-1-a"))
    assert modes_in(tmp_path) == dict.fromkeys(
        ("journal.sqlite", "journal.sqlite-wal", "journal.sqlite.lock", "journal.sqlite.seal"), 0o600
    )
    await journal.close()


async def test_the_seal_is_behind_no_answer_and_closed_at_the_end(tmp_path: Path) -> None:
    """When an append is answered its lines are in the seal; after the close the seal says that it is all."""
    path = tmp_path / "journal.sqlite"
    journal = SqliteJournal.open(path)
    for number in range(1, 6):
        await append(journal, draft(number))
        seal = read_seal(path).seal
        assert seal is not None
        assert (seal.count, seal.closed) == (number, False)
    await journal.close()
    seal = read_seal(path).seal
    assert seal is not None
    assert (seal.count, seal.closed) == (5, True)
