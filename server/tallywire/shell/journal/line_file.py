"""The journal's SQLite file, used only by the one thread that owns it: plain calls, no waiting, no sharing."""

from __future__ import annotations

import errno
import logging
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from itertools import count
from pathlib import Path

from tallywire.core.errors import JournalDamaged, JournalFailed, JournalFull
from tallywire.shell.journal.chain import GENESIS, chained, note_check
from tallywire.shell.journal.examine import UNREADABLE
from tallywire.shell.journal.lock import hold_lock
from tallywire.shell.journal.port import Draft, Line, check_same_note
from tallywire.shell.journal.proof import Reader, examine_for
from tallywire.shell.journal.schema import prepare
from tallywire.shell.journal.seal import SealFile, open_seal

_log = logging.getLogger(__name__)

ROWS_A_STATEMENT = 1000
"""Most lines that one INSERT writes: seven values each, well under SQLite's 32,766 parameters a statement."""

Chained = tuple[int, int, str, int, bytes, bytes | None, bytes]
"""A line and the chain up to it."""


class LineFile:
    """Lines and notes in an SQLite file, through its only connection.

    There is only one connection because SQLite before 3.51.3, which most systems still ship, can corrupt a WAL file
    when a second connection writes or checkpoints at the wrong moment, and any reader that is the last to close
    checkpoints. So reading goes through the writing connection too, in chunks short enough not to hold up the next
    commit.
    """

    def __init__(self, connection: sqlite3.Connection, seal: SealFile) -> None:
        self._connection = connection
        self._seal = seal
        self._last, self._head = _end_of(connection)

    def write(self, groups: Sequence[tuple[Sequence[Draft], int]]) -> list[list[Line]]:
        """Number the drafts of each (drafts, received_unix_ms) in order and commit all of them at once, durably."""
        numbers = count(self._last + 1)
        written = [
            [draft.as_line(next(numbers), received_unix_ms=received) for draft in drafts] for drafts, received in groups
        ]
        rows = self._chained([line for group in written for line in group])
        self._insert(rows)
        if rows:
            self._last, self._head = rows[-1][0], rows[-1][-1]
            # The seal comes after the commit and before the answer: every answered line is sealed, every sealed line is
            # on disk.
            self._seal.write(self._last, self._head)
        return written

    def _chained(self, lines: Sequence[Line]) -> list[Chained]:
        head, rows = self._head, list[Chained]()
        for line in lines:
            head = chained(head, line)
            rows.append((*line, head))
        return rows

    def _insert(self, lines: Sequence[Chained]) -> None:
        # One statement is its own transaction. SQLite gives the interpreter lock away at each step and must win it back
        # from a busy event loop, so a statement a line cost 4.6 times the p99 (tests/shell/bench_journal.py).
        if len(lines) <= ROWS_A_STATEMENT:
            self._insert_rows(lines)
            return
        self._connection.execute("BEGIN IMMEDIATE")
        for start in range(0, len(lines), ROWS_A_STATEMENT):
            self._insert_rows(lines[start : start + ROWS_A_STATEMENT])
        self._connection.execute("COMMIT")

    def _insert_rows(self, lines: Sequence[Chained]) -> None:
        if lines:
            rows = ",".join(["(?,?,?,?,?,?,?)"] * len(lines))
            self._connection.execute(f"INSERT INTO line VALUES {rows}", [value for line in lines for value in line])

    def read(self, *, after: int, limit: int) -> list[Line]:
        """Give at most `limit` lines with a number above `after`, in order."""
        columns = "number, received_unix_ms, sender, sequence, body, refusal"
        query = f"SELECT {columns} FROM line WHERE number > ? ORDER BY number LIMIT ?"
        return list(map(Line._make, self._connection.execute(query, (after, limit)).fetchall()))

    @property
    def last(self) -> int:
        """The number of the last line."""
        return self._last

    def watermarks(self) -> Mapping[str, int]:
        """Give each sender's highest sequence."""
        return dict(self._connection.execute("SELECT sender, max(sequence) FROM line GROUP BY sender"))

    def note(self, key: str) -> str | None:
        """Give what was kept under `key`, or None."""
        row = self._connection.execute("SELECT value FROM note WHERE key = ?", (key,)).fetchone()
        return None if row is None else str(row[0])

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        kept = self.note(key)
        if kept is None:
            self._connection.execute("INSERT INTO note VALUES (?, ?, ?)", (key, value, note_check(key, value)))
        else:
            check_same_note(key, kept=kept, value=value)

    def notes(self) -> dict[str, str]:
        """Give every note."""
        return dict(self._connection.execute("SELECT key, value FROM note"))

    def head_at(self, number: int) -> bytes | None:
        """Give the chain up to a line, None when there is no such line."""
        if number == 0:
            return GENESIS
        row = self._connection.execute("SELECT chain FROM line WHERE number = ?", (number,)).fetchone()
        return None if row is None else bytes(row[0])

    def force_seal(self, *, is_idle: bool = False) -> None:
        """Force the seal to the disk if it has waited long enough or there is nothing else to do."""
        if self._seal.is_due or (is_idle and self._seal.is_dirty):
            self._seal.force()

    def seal_at_start(self) -> None:
        """Note in the seal, on the disk, that the journal is open: there may be more lines than are sealed."""
        self._seal.write(self._last, self._head)
        self._seal.force()

    def seal_at_end(self) -> None:
        """Note in the seal, on the disk, that the journal was closed in order and that these are all its lines."""
        self._seal.write(self._last, self._head, closed=True)
        self._seal.force()


def _end_of(connection: sqlite3.Connection) -> tuple[int, bytes]:
    row = connection.execute("SELECT number, chain FROM line ORDER BY number DESC LIMIT 1").fetchone()
    return (0, GENESIS) if row is None else (int(row[0]), bytes(row[1]))


@contextmanager
def open_lines(path: Path, factory: type[sqlite3.Connection], *, reader: Reader | None = None) -> Iterator[LineFile]:
    """Lock, examine and open the file at `path`, creating it if it is missing; JournalFailed when it cannot be used.

    `reader` gets its lines as they are examined: they are those of the journal if no error is raised.
    """
    with hold_lock(path), ExitStack() as stack:
        try:
            lines = _opened(path, factory, stack, reader)
        except (OSError, *UNREADABLE) as exc:
            message = f"cannot open the journal {path}: {exc}: check the path and the disk"
            raise (JournalFull if is_full(exc) else JournalFailed)(message) from exc
        except (JournalDamaged, JournalFull):
            raise
        except JournalFailed as exc:
            raise JournalFailed(f"cannot open the journal {path}: {exc}") from exc
        yield lines
        # Not after a failure: then the next opening has to find out what is on the disk.
        lines.seal_at_end()


def _opened(path: Path, factory: type[sqlite3.Connection], stack: ExitStack, reader: Reader | None) -> LineFile:
    found = examine_for(reader, path)
    found.raise_damage()
    for remark in found.remarks:
        _log.warning("the journal %s: %s; harmless to every fact, and written anew", path, remark)
    _own(path)
    seal = stack.enter_context(open_seal(path, serial=found.seal.serial if found.seal is not None else 0))
    connection = sqlite3.connect(path, isolation_level=None, factory=factory)
    stack.enter_context(closing(connection))

    def seal_upgrade(count: int, head: bytes) -> None:
        seal.write(count, head)
        seal.force()

    prepare(connection, seal=seal_upgrade)
    lines = LineFile(connection, seal)
    lines.seal_at_start()
    return lines


def _own(path: Path) -> None:
    """Let only the owner read the file, and those that SQLite makes beside it with the same mode."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        os.fchmod(descriptor, 0o600)
    finally:
        os.close(descriptor)


def is_full(exc: BaseException) -> bool:
    """Tell whether an error says that the disk has no room."""
    if isinstance(exc, OSError):
        return exc.errno in (errno.ENOSPC, errno.EDQUOT)
    # The second one: no room for the few pages of memory that SQLite shares by a file.
    return getattr(exc, "sqlite_errorcode", None) in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_SHMSIZE)
