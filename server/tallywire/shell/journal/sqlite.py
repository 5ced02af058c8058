"""The embedded journal: one SQLite file, no server. The port's promises are in port.py."""

from __future__ import annotations

import sqlite3
from functools import partial
from pathlib import Path
from typing import Self

from tallywire.shell.journal.committed import CommittedJournal
from tallywire.shell.journal.committer import Committer
from tallywire.shell.journal.line_file import LineFile, open_lines
from tallywire.shell.journal.proof import Reader


class SqliteJournal(CommittedJournal[LineFile]):
    """A Journal in an SQLite file (WAL, every commit synced), held by one process at a time.

    Its thread shares the interpreter with the event loop. A server whose loop computes for milliseconds at a time
    should call `sys.setswitchinterval(0.0005)` when it starts: with the usual 5 ms such a loop kept the thread waiting
    for seconds, with 0.5 ms for some ten milliseconds (tests/shell/bench_journal.py).
    """

    @classmethod
    def open(
        cls, path: Path, *, factory: type[sqlite3.Connection] = sqlite3.Connection, reader: Reader | None = None
    ) -> Self:
        """Open the journal at `path`, creating it if it is missing; blocks while its lines are counted.

        `reader` gets its lines as they are examined, on the journal's thread. `factory` makes the connection: a test
        passes one that fails or waits where it wants. Raises JournalFailed when another process has the journal open,
        when the file is not a journal of this version, misses lines, or lies where writes cannot be made durable.
        """
        committer = Committer(partial(open_lines, path, factory, reader=reader))
        # The thread opens the file; its first answer says whether it could.
        committer.call(lambda _file: None)
        return cls(committer)
