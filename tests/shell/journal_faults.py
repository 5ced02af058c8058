"""SQLite connections that wait, fail or lie where a test wants, to be passed to SqliteJournal.open."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterable
from dataclasses import dataclass, field

PATIENCE_S = 20
"""A wait this long is a test that hangs."""


def commits(sql: str) -> bool:
    """Tell whether a statement of the journal is one that makes lines durable."""
    return sql.startswith("INSERT INTO line")


@dataclass(slots=True)
class Hold:
    """Stops each commit: `reached` says that one is about to run, `release` lets it, `fault` makes it fail instead."""

    reached: threading.Event = field(default_factory=threading.Event)
    release: threading.Event = field(default_factory=threading.Event)
    statements: list[str] = field(default_factory=list)
    fault: Exception | None = None

    def pass_commit(self) -> None:
        """Wait for the release, then raise the fault if there is one."""
        self.reached.set()
        if not self.release.wait(PATIENCE_S):
            raise TimeoutError("found a commit that nobody released")
        if self.fault is not None:
            raise self.fault


class _Recorded(sqlite3.Connection):
    hold: Hold

    def execute(self, sql: str, parameters: Iterable[object] = (), /) -> sqlite3.Cursor:  # type: ignore[override]
        self.hold.statements.append(sql)
        if commits(sql):
            self.hold.pass_commit()
        return super().execute(sql, parameters)  # type: ignore[arg-type]


def held_connection(hold: Hold) -> type[sqlite3.Connection]:
    """Give a connection class whose commits obey `hold`."""
    return type("Held", (_Recorded,), {"hold": hold})


class _Early(_Recorded):
    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        self._put_off: list[tuple[str, Iterable[object]]] = []

    def execute(self, sql: str, parameters: Iterable[object] = (), /) -> sqlite3.Cursor:  # type: ignore[override]
        if commits(sql):
            self._put_off.append((sql, parameters))
            return super().execute("SELECT 1")
        return super().execute(sql, parameters)

    def close(self) -> None:
        for sql, parameters in self._put_off:
            super().execute(sql, parameters)
        super().close()


def early_connection(hold: Hold) -> type[sqlite3.Connection]:
    """Give the mutant: its writes return at once and are made when it is closed, so lines are answered too early."""
    return type("Early", (_Early,), {"hold": hold})


class Unsynced(sqlite3.Connection):
    """A mutant whose commits are not synced."""

    def execute(self, sql: str, parameters: Iterable[object] = (), /) -> sqlite3.Cursor:  # type: ignore[override]
        """Run every statement as it is but the one that asks for the sync."""
        return super().execute(sql.replace("synchronous = FULL", "synchronous = NORMAL"), parameters)  # type: ignore[arg-type]


class SmallDisk(sqlite3.Connection):
    """A file that may not grow past 40 pages: SQLite itself reports it full."""

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        self.execute("PRAGMA max_page_count = 40")
