"""The mutant of a whole server: its commits are not synced before they are answered."""

from __future__ import annotations

import sqlite3
import sys
from typing import Any

from simulated.cuts import NotSynced

_connect = sqlite3.connect


def install() -> None:
    """Have every plain connection be the mutant's."""
    sqlite3.connect = connect


def connect(*arguments: Any, factory: type[sqlite3.Connection] = sqlite3.Connection, **options: Any) -> Any:
    """Connect, with the mutant where the plain class is asked for."""
    plain = factory is sqlite3.Connection
    return _connect(*arguments, factory=NotSynced if plain else factory, **options)


FIRST = f"import sys; sys.path[:0] = {sys.path!r}; from e2e.unsynced_server import install; install()"
"""What a server's process runs first to be the mutant."""
