"""Which heat is on the floor: the one that was called to it or started last, by wall time."""

from __future__ import annotations

from collections.abc import Iterable

from tallywire.core.facts import HeatCalled, HeatStarted
from tallywire.core.fold.heat import HeatBook

FLOOR = "floor"
"""Stands in the place of a heat's id for whichever heat is on the floor."""


def on_floor(books: Iterable[HeatBook]) -> str | None:
    """Name the heat on the floor, None before the first call or start; of two at one moment the later in the file."""
    latest: tuple[int, str] | None = None
    for book in books:
        at = max((fact.unix_ms for fact in _moves(book)), default=None)
        if at is not None and (latest is None or at >= latest[0]):
            latest = (at, book.heat.id)
    return None if latest is None else latest[1]


def _moves(book: HeatBook) -> list[HeatCalled | HeatStarted]:
    return [fact for fact in book.ledger.standing(None) if isinstance(fact, HeatCalled | HeatStarted)]
