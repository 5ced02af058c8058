"""The tables of a journal file, by version, and how a file becomes one of the present version."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from functools import cache

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.chain import GENESIS, chained, note_check
from tallywire.shell.journal.port import Line

APPLICATION_ID = 0x54414C57
"""SQLite's `application_id` of every journal: tells it from another program's SQLite file."""

SCHEMA_VERSION = 2
"""SQLite's `user_version` of the tables that are written. Version 1 had neither chain nor checksums."""

_LINE = """
CREATE TABLE line (
    number INTEGER PRIMARY KEY CHECK (number >= 1),
    received_unix_ms INTEGER NOT NULL,
    sender TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    body BLOB NOT NULL,
    refusal BLOB,{chain}
    UNIQUE (sender, sequence)
) STRICT;
"""
_NOTE = """
CREATE TABLE note (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL{chain}
) STRICT, WITHOUT ROWID;
"""
# The triggers are for every program that opens the file, not only for this one. The insert trigger looks the sender's
# number up as well: INSERT OR REPLACE would otherwise remove the older line without firing the delete trigger.
_TRIGGERS = """
CREATE TRIGGER line_is_next BEFORE INSERT ON line
    WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM line)
    BEGIN SELECT raise(ABORT, 'the number of a new line must be the next one'); END;
CREATE TRIGGER line_is_new BEFORE INSERT ON line
    WHEN EXISTS (SELECT 1 FROM line WHERE sender = NEW.sender AND sequence = NEW.sequence)
    BEGIN SELECT raise(ABORT, 'the sender has already used that sequence'); END;
CREATE TRIGGER line_is_kept BEFORE DELETE ON line
    BEGIN SELECT raise(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER line_is_fixed BEFORE UPDATE ON line
    BEGIN SELECT raise(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER note_is_new BEFORE INSERT ON note
    WHEN EXISTS (SELECT 1 FROM note WHERE key = NEW.key)
    BEGIN SELECT raise(ABORT, 'the note is already set'); END;
CREATE TRIGGER note_is_kept BEFORE DELETE ON note
    BEGIN SELECT raise(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER note_is_fixed BEFORE UPDATE ON note
    BEGIN SELECT raise(ABORT, 'the journal is append-only'); END;
"""
_CHAIN = {1: ("", ""), 2: ("\n    chain BLOB NOT NULL,", ",\n    check_sum BLOB NOT NULL")}
VERSIONS = tuple(_CHAIN)
"""The versions that can be read."""


def tables_of(version: int) -> str:
    """Give the statements that make the tables of a version, in the order in which it made them."""
    line, note = _CHAIN[version]
    triggers = [f"CREATE TRIGGER{each}" for each in _TRIGGERS.split("CREATE TRIGGER")[1:]]
    return _LINE.format(chain=line) + "".join(triggers[:4]) + _NOTE.format(chain=note) + "".join(triggers[4:])


def schema_rows(connection: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Give what SQLite's own table says of a file's tables, indexes and triggers."""
    return connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name").fetchall()


@cache
def expected_rows(version: int) -> list[tuple[object, ...]]:
    """Give what `schema_rows` gives for a sound file of this version."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        connection.executescript(tables_of(version))
        return schema_rows(connection)


def version_of(connection: sqlite3.Connection) -> int:
    """Give the version of a journal, 0 for a file with nothing in it. Raises JournalFailed for anything else."""
    application_id = _pragma(connection, "application_id")
    if not application_id and not connection.execute("SELECT 1 FROM sqlite_schema").fetchone():
        return 0
    if application_id != APPLICATION_ID:
        raise JournalFailed("found another program's SQLite file, expected a journal: choose another path")
    version = _pragma(connection, "user_version")
    if version not in VERSIONS:
        known = " or ".join(map(str, VERSIONS))
        raise JournalFailed(
            f"found journal schema version {version}, expected {known}: open it with the release that wrote it"
        )
    return int(str(version))


def prepare(connection: sqlite3.Connection, *, seal: Callable[[int, bytes], None]) -> None:
    """Make the connection durable and exclusive, create the tables of a new file, bring those of an old one up to date.

    A file of an old version is sealed by `seal(count, head)` before it is replaced, because from then on a seal is
    expected. Raises JournalFailed for a file that is not a journal, or is of an unknown version.
    """
    # Exclusive: even a stray SQLite shell is kept out while the journal is open (see LineFile for the reason). Set
    # before the file is first read, and the identity is checked before the first setting that changes the file.
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    version = version_of(connection)
    _make_durable(connection)
    # A file that may not be written shows here, not at the first fact.
    connection.execute("BEGIN IMMEDIATE")
    try:
        if version == 0:
            _create(connection)
        elif version == 1:
            seal(*_upgrade(connection))
    except BaseException:
        # SQLite may have rolled back by itself, as it does when the disk is full.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _create(connection: sqlite3.Connection) -> None:
    for statement in _statements(tables_of(SCHEMA_VERSION)):
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _upgrade(connection: sqlite3.Connection) -> tuple[int, bytes]:
    """Write the lines of version 1 into tables with a chain, and give their count and its head.

    All in one transaction: a crash leaves version 1.
    """
    for trigger in ("line_is_next", "line_is_new", "line_is_kept", "line_is_fixed"):
        connection.execute(f"DROP TRIGGER {trigger}")
    for trigger in ("note_is_new", "note_is_kept", "note_is_fixed"):
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.execute("ALTER TABLE line RENAME TO line_1")
    connection.execute("ALTER TABLE note RENAME TO note_1")
    _create(connection)
    count, chain = 0, GENESIS
    for row in connection.execute("SELECT * FROM line_1 NOT INDEXED ORDER BY number"):
        count += 1
        chain = chained(chain, Line._make(row))
        connection.execute("INSERT INTO line VALUES (?,?,?,?,?,?,?)", (*row, chain))
    for key, value in connection.execute("SELECT key, value FROM note_1").fetchall():
        connection.execute("INSERT INTO note VALUES (?,?,?)", (key, value, note_check(key, value)))
    connection.execute("DROP TABLE line_1")
    connection.execute("DROP TABLE note_1")
    return count, chain


def _statements(script: str) -> list[str]:
    """Split a script: `executescript` would commit the transaction it runs in."""
    statements, rest = [], ""
    for line in script.splitlines(keepends=True):
        rest += line
        if sqlite3.complete_statement(rest):
            statements.append(rest.strip())
            rest = ""
    return statements


def _make_durable(connection: sqlite3.Connection) -> None:
    # To its end: an error of the disk shows only there, and a file that stayed as it was would be gone on with.
    connection.execute("PRAGMA journal_mode = WAL").fetchall()
    connection.execute("PRAGMA synchronous = FULL")
    # On macOS fsync leaves the data in the drive's cache; elsewhere this does nothing.
    connection.execute("PRAGMA fullfsync = ON")
    found = (_pragma(connection, "journal_mode"), _pragma(connection, "synchronous"))
    if found != ("wal", 2):
        raise JournalFailed(f"found journal mode and sync level {found}, expected ('wal', 2): choose a local disk")


def _pragma(connection: sqlite3.Connection, name: str) -> object:
    return connection.execute(f"PRAGMA {name}").fetchone()[0]
