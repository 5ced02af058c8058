"""Examining a journal without changing a byte of it: which lines are sound, and everything that is wrong."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from itertools import islice
from pathlib import Path
from urllib.parse import quote

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.chain import note_check
from tallywire.shell.journal.findings import ChainReader, Findings, runs_text
from tallywire.shell.journal.port import Row
from tallywire.shell.journal.schema import expected_rows, schema_rows, version_of
from tallywire.shell.journal.seal import SealReading, read_seal

UNREADABLE = (sqlite3.Error, UnicodeError)
"""The errors that SQLite raises for a damaged file; its message may contain a piece of the damage that is not text."""
Take = Callable[[Sequence[Row]], object]
"""Takes sound rows of a journal, in order, some hundred at a time."""
_FAULTS_SHOWN = 10
_CHUNK = 500
"""So many rows are read, and made into facts, at a time. With 2,000 a fact took 355 bytes of memory instead of 337."""
_COLUMNS = "number, received_unix_ms, sender, sequence, body, refusal"


def is_of_the_system(exc: BaseException) -> bool:
    """Tell whether an error comes from the disk or the system, and not from the contents of the file."""
    if isinstance(exc, OSError):
        return True
    code = getattr(exc, "sqlite_errorcode", None) or 0
    if code in (sqlite3.SQLITE_IOERR_SHORT_READ, sqlite3.SQLITE_IOERR_CORRUPTFS):
        return False
    # The lowest eight bits of an extended result code are the primary one (SQLite, "Result and Error Codes").
    return code & 0xFF in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_NOMEM)


def examine(path: Path, *, take: Take | None = None) -> Findings:
    """Check every byte that a fact depends on, and hand each sound line to `take`, without changing anything.

    The caller holds the journal's lock. Raises JournalFailed for a file that is not a journal of ours at all, OSError
    when the files cannot be read.
    """
    reading = read_seal(path)
    found = Findings(where=str(path), named=str(path.parent), seal=reading.seal)
    try:
        with _looked_at(path) as connection:
            found.version = version_of(connection)
            if found.version:
                _examine_tables(path, connection, found, take)
    except JournalFailed as exc:
        # It was a journal of ours if there is a seal beside it.
        if not reading.is_there:
            raise
        found.faults.append(str(exc))
    except UNREADABLE as exc:
        if is_of_the_system(exc) or (not reading.is_there and not found.version):
            raise
        found.faults.append(f"SQLite cannot read the file ({exc})")
    _compare_seal(found, reading)
    return found


@contextmanager
def _looked_at(path: Path) -> Iterator[sqlite3.Connection]:
    """Open the file so that nothing in it or in its log is changed: not even the log is merged at the end."""
    if path.with_name(f"{path.name}-journal").exists():
        # A crash at the very first start, before the file used a log, leaves this: SQLite rolls it back, if it may
        # write.
        with closing(sqlite3.connect(path, isolation_level=None)) as first:
            first.execute("SELECT 1 FROM sqlite_schema").fetchone()
    memory = path.with_name(f"{path.name}-shm")
    was_there = memory.exists()
    target = f"file:{quote(str(path))}?mode=ro" if path.exists() else ":memory:"
    try:
        with closing(sqlite3.connect(target, uri=True, isolation_level=None)) as connection:
            yield connection
    finally:
        if not was_there:
            memory.unlink(missing_ok=True)


def _examine_tables(path: Path, connection: sqlite3.Connection, found: Findings, take: Take | None) -> None:
    try:
        _examine_lines(connection, found, take)
        _examine_notes(connection, found)
        _examine_header(path, found)
        if schema_rows(connection) != expected_rows(found.version):
            found.faults.append("the tables are not those that Tallywire makes")
        # Check what reading the lines does not touch: indexes against tables, free pages, the order of the keys.
        said = [row[0] for row in connection.execute(f"PRAGMA integrity_check({_FAULTS_SHOWN})")]
        found.faults += [f"SQLite says: {' '.join(str(each).split())}" for each in said if each != "ok"]
    except UNREADABLE as exc:
        if is_of_the_system(exc):
            raise
        found.faults.append(f"SQLite cannot read the file beyond line {found.last} ({exc})")


def rows_of(path: Path) -> Iterator[Sequence[Row]]:
    """Give the rows of a journal as they are, some hundred at a time; for whoever has it examined besides."""
    with _looked_at(path) as connection:
        cursor = connection.execute(f"SELECT {_COLUMNS}, chain FROM line NOT INDEXED ORDER BY number")
        while rows := list(islice(cursor, _CHUNK)):
            yield rows


def _examine_lines(connection: sqlite3.Connection, found: Findings, take: Take | None) -> None:
    chain = ChainReader(found)
    sealed = found.seal.count if found.seal is not None else 0
    for rows in _rows(connection, found, sealed):
        for part in _up_to_and_behind(sealed, rows):
            proven = chain.follow(part)
            if take is not None:
                take(proven)
            if part[-1][0] == sealed and found.seal is not None and found.head != found.seal.head:
                found.faults.append(f"the chain up to line {sealed} is not the one that was sealed")


def _up_to_and_behind(number: int, rows: Sequence[Row]) -> list[Sequence[Row]]:
    """Part rows behind the one of this number."""
    cut = next((place for place, row in enumerate(rows, start=1) if row[0] == number), 0)
    return [part for part in (rows[:cut], rows[cut:]) if part]


def _rows(connection: sqlite3.Connection, found: Findings, sealed: int) -> Iterator[Sequence[Row]]:
    """Give the rows in order; after a place that cannot be read, those that can be, up to the last one sealed."""
    query = f"SELECT {_COLUMNS}, {'chain' if found.version > 1 else 'NULL'} FROM line NOT INDEXED"
    rows: list[Row] = []
    try:
        cursor = connection.execute(f"{query} ORDER BY number")
        while True:
            # What was read before an error stays in the list.
            rows.extend(islice(cursor, _CHUNK))
            if not rows:
                return
            yield rows
            rows = []
    except UNREADABLE as exc:
        if is_of_the_system(exc):
            raise
        if rows:
            yield rows
        found.faults.append(f"line {found.last + 1} cannot be read ({exc})")
        for number in range(found.last + 1, sealed + 1):
            with suppress(*UNREADABLE):
                if row := connection.execute(f"{query} WHERE number = ?", (number,)).fetchall():
                    yield row


def _examine_header(path: Path, found: Findings) -> None:
    """Check a field that SQLite looks at only when it writes (SQLite file format §1.3.3: 1 is legacy, 2 is a log)."""
    with path.open("rb") as file:
        versions = file.read(20)[18:]
    if versions not in (b"\1\1", b"\2\2"):
        found.faults.append(f"the file's header has write and read version {versions.hex(' ')}, expected 02 02")


def _examine_notes(connection: sqlite3.Connection, found: Findings) -> None:
    columns = "key, value, check_sum" if found.version > 1 else "key, value, NULL"
    for key, value, check in connection.execute(f"SELECT {columns} FROM note ORDER BY key"):
        found.notes[key] = value
        texts = isinstance(key, str) and isinstance(value, str)
        if not texts or (found.version > 1 and check != note_check(key, value)):
            found.faults.append(f"the note {key!r} is not what was written: its checksum does not fit")


def _compare_seal(found: Findings, reading: SealReading) -> None:
    found.remarks += reading.faults
    seal = found.seal
    if seal is None:
        if found.last and found.version > 1:
            what = "no slot of it can be read" if reading.is_there else "its file is not there"
            found.faults.append(f"the seal is missing ({what}), so nothing says how many lines there were")
        return
    if found.last < seal.count:
        found.missing.append(range(found.last + 1, seal.count + 1))
        found.faults.append(f"{runs_text([found.missing[-1]])} missing: {seal.count} were sealed")
    elif seal.closed and found.last > seal.count:
        added = range(seal.count + 1, found.last + 1)
        found.faults.append(f"{runs_text([added])} added: {seal.count} lines were sealed at the end")
