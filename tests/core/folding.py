"""Facts folded into the state of a heat in one call, as most tests want it."""

from __future__ import annotations

from collections.abc import Iterable

from tallywire.core.facts import Fact, ShowFact
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.model.competition import Competition


def fold(competition: Competition, heat_id: str, facts: Iterable[Fact], clock_ms: int | None = None) -> HeatState:
    """Fold facts, in any order, into the state of a heat.

    Facts of other heats and of the show are passed over. Without `clock_ms` the clock stands at the latest fact.
    """
    book = HeatBook(competition, competition.heats[heat_id])
    for fact in facts:
        if fact.heat == heat_id and not isinstance(fact, ShowFact):
            book.add(fact)
    return book.at(book.last_ms() if clock_ms is None else clock_ms).state
