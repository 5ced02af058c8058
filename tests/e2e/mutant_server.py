"""Mutants of a whole server: one whose commits are not synced, and one that answers before its commits."""

from __future__ import annotations

import sqlite3
import sys
from typing import Any

from shell.journal_faults import Hold, early_connection
from simulated.cuts import NotSynced

_connect = sqlite3.connect


def install(mutant: type[sqlite3.Connection]) -> None:
    """Have every plain connection be the mutant's."""

    def connect(*arguments: Any, factory: type[sqlite3.Connection] = sqlite3.Connection, **options: Any) -> Any:
        plain = factory is sqlite3.Connection
        return _connect(*arguments, factory=mutant if plain else factory, **options)

    sqlite3.connect = connect


def early() -> type[sqlite3.Connection]:
    """Give the connection that commits only when it is closed."""
    hold = Hold()
    hold.release.set()
    return early_connection(hold)


unsynced = NotSynced


def first(mutant: str) -> str:
    """Give what a server's process runs first to be a mutant: `early()` or `unsynced`."""
    return f"import sys; sys.path[:0] = {sys.path!r}; from e2e import mutant_server as m; m.install(m.{mutant})"
