"""The tables of a journal file, and the checks a file passes before it is used."""

from __future__ import annotations

import sqlite3

from tallywire.core.errors import JournalFailed

APPLICATION_ID = 0x54414C57
"""SQLite's `application_id` of every journal: tells it from another program's SQLite file."""

SCHEMA_VERSION = 1
"""SQLite's `user_version` of the tables below."""

# The triggers are for every program that opens the file, not only for this one. The insert trigger looks the sender's
# number up as well: INSERT OR REPLACE would otherwise remove the older line without firing the delete trigger.
_TABLES = f"""
BEGIN;
CREATE TABLE line (
    number INTEGER PRIMARY KEY CHECK (number >= 1),
    received_unix_ms INTEGER NOT NULL,
    sender TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    body BLOB NOT NULL,
    refusal BLOB,
    UNIQUE (sender, sequence)
) STRICT;
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
CREATE TABLE note (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TRIGGER note_is_new BEFORE INSERT ON note
    WHEN EXISTS (SELECT 1 FROM note WHERE key = NEW.key)
    BEGIN SELECT raise(ABORT, 'the note is already set'); END;
CREATE TRIGGER note_is_kept BEFORE DELETE ON note
    BEGIN SELECT raise(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER note_is_fixed BEFORE UPDATE ON note
    BEGIN SELECT raise(ABORT, 'the journal is append-only'); END;
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = {SCHEMA_VERSION};
COMMIT;
"""


def prepare(connection: sqlite3.Connection) -> None:
    """Make the connection durable and exclusive, create the tables of a new file, and check those of an old one.

    Raises JournalFailed for a file that is not a journal, is of another version, or misses lines.
    """
    # Exclusive: even a stray SQLite shell is kept out while the journal is open (see LineFile for the reason). Set
    # before the file is first read, and the identity is checked before the first setting that changes the file.
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    is_new = _is_new(connection)
    _make_durable(connection)
    if is_new:
        connection.executescript(_TABLES)
    _check_gapless(connection)


def _is_new(connection: sqlite3.Connection) -> bool:
    application_id = _pragma(connection, "application_id")
    if not application_id and not connection.execute("SELECT 1 FROM sqlite_schema").fetchone():
        return True
    if application_id != APPLICATION_ID:
        raise JournalFailed("found another program's SQLite file, expected a journal: choose another path")
    version = _pragma(connection, "user_version")
    if version != SCHEMA_VERSION:
        raise JournalFailed(
            f"found journal schema version {version}, expected {SCHEMA_VERSION}: open it with the release that wrote it"
        )
    return False


def _make_durable(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    # On macOS fsync leaves the data in the drive's cache; elsewhere this does nothing.
    connection.execute("PRAGMA fullfsync = ON")
    found = (_pragma(connection, "journal_mode"), _pragma(connection, "synchronous"))
    if found != ("wal", 2):
        raise JournalFailed(f"found journal mode and sync level {found}, expected ('wal', 2): choose a local disk")


def _check_gapless(connection: sqlite3.Connection) -> None:
    # Numbers are whole, distinct and at least 1: as many as the highest one means none is missing.
    # NOT INDEXED: the table itself is counted; SQLite would count the smaller index, which says nothing about it.
    last, count = connection.execute("SELECT coalesce(max(number), 0), count(*) FROM line NOT INDEXED").fetchone()
    if last != count:
        raise JournalFailed(
            f"found {count} lines numbered up to {last}, expected {last}: restore the journal from a copy"
        )


def _pragma(connection: sqlite3.Connection, name: str) -> object:
    return connection.execute(f"PRAGMA {name}").fetchone()[0]
