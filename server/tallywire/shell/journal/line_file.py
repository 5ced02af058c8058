"""The journal's SQLite file as seen by the one thread that owns it: plain calls, no waiting, no sharing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from itertools import count
from pathlib import Path

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.lock import hold_lock
from tallywire.shell.journal.port import Draft, Line, check_same_note
from tallywire.shell.journal.schema import prepare

ROWS_A_STATEMENT = 1000
"""Most lines that one INSERT writes: six values each, well under SQLite's 32,766 parameters a statement."""


class LineFile:
    """Lines and notes in an SQLite file, through its only connection.

    Only one: SQLite before 3.51.3, which most systems still ship, can corrupt a WAL file when a second connection
    writes or checkpoints at the wrong moment, and any reader that is the last to close checkpoints. So reading goes
    through the writing connection too, in chunks short enough not to hold up the next commit.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._last: int = connection.execute("SELECT coalesce(max(number), 0) FROM line").fetchone()[0]

    def write(self, groups: Sequence[tuple[Sequence[Draft], int]]) -> list[list[Line]]:
        """Number the drafts of each (drafts, received_unix_ms) in order and commit all of them at once, durably."""
        numbers = count(self._last + 1)
        written = [
            [draft.as_line(next(numbers), received_unix_ms=received) for draft in drafts] for drafts, received in groups
        ]
        lines = [line for group in written for line in group]
        self._insert(lines)
        self._last += len(lines)
        return written

    def _insert(self, lines: Sequence[Line]) -> None:
        # One statement is its own transaction. SQLite gives the interpreter lock away at each step and must win it back
        # from a busy event loop, so a statement a line cost 4.6 times the p99 (tests/shell/bench_journal.py).
        if len(lines) <= ROWS_A_STATEMENT:
            self._insert_rows(lines)
            return
        self._connection.execute("BEGIN IMMEDIATE")
        for start in range(0, len(lines), ROWS_A_STATEMENT):
            self._insert_rows(lines[start : start + ROWS_A_STATEMENT])
        self._connection.execute("COMMIT")

    def _insert_rows(self, lines: Sequence[Line]) -> None:
        if lines:
            rows = ",".join(["(?,?,?,?,?,?)"] * len(lines))
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

    def bodies(self, *, after: int, until: int) -> list[bytes]:
        """Give the bodies of the accepted lines above `after`, up to `until`, in order."""
        query = "SELECT body FROM line WHERE number > ? AND number <= ? AND refusal IS NULL ORDER BY number"
        return [body for (body,) in self._connection.execute(query, (after, until)).fetchall()]

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
            self._connection.execute("INSERT INTO note VALUES (?, ?)", (key, value))
        else:
            check_same_note(key, kept=kept, value=value)


@contextmanager
def open_lines(path: Path, factory: type[sqlite3.Connection]) -> Iterator[LineFile]:
    """Lock, open and check the file at `path`, creating it if it is missing; JournalFailed when it cannot be used."""
    with hold_lock(path), ExitStack() as stack:
        try:
            connection = sqlite3.connect(path, isolation_level=None, factory=factory)
            stack.enter_context(closing(connection))
            prepare(connection)
            lines = LineFile(connection)
        except sqlite3.Error as exc:
            raise JournalFailed(f"cannot open the journal {path}: {exc}: check the path and the disk") from exc
        except JournalFailed as exc:
            raise JournalFailed(f"cannot open the journal {path}: {exc}") from exc
        yield lines
