"""Mutants of a whole server: what shows that the checks of real ones are able to fail."""

from __future__ import annotations

import sqlite3
import sys
from typing import Any

from shell.journal_faults import Hold, commits, early_connection
from simulated.cuts import NotSynced
from tallywire.shell.journal import committer

_connect = sqlite3.connect


def install(mutant: type[sqlite3.Connection]) -> None:
    """Have every plain connection be the mutant's."""

    def connect(*arguments: Any, factory: type[sqlite3.Connection] = sqlite3.Connection, **options: Any) -> Any:
        plain = factory is sqlite3.Connection
        return _connect(*arguments, factory=mutant if plain else factory, **options)

    sqlite3.connect = connect


def early() -> None:
    """Commit only when the journal is closed."""
    hold = Hold()
    hold.release.set()
    install(early_connection(hold))


def unsynced() -> None:
    """Answer commits that are not synced."""
    install(NotSynced)


def deaf() -> None:
    """Go on after a commit that failed as if it had not."""

    class Deaf(sqlite3.Connection):
        def execute(self, sql: str, parameters: Any = (), /) -> sqlite3.Cursor:
            try:
                return super().execute(sql, parameters)
            except sqlite3.Error:
                if not commits(sql):
                    raise
                return super().execute("SELECT 1")

    install(Deaf)


def loud() -> None:
    """Log an error of the disk with its traceback, as if the program were at fault."""
    vars(committer)["is_of_the_system"] = lambda _exc: False


def first(mutant: str) -> str:
    """Give what a server's process runs first to be the mutant of this name."""
    return f"import sys; sys.path[:0] = {sys.path!r}; from e2e import mutant_server; mutant_server.{mutant}()"
