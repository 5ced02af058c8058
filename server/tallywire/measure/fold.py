"""A fact into the books: after all others, as taps come, and long before them, as a late pad's do."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import partial
from itertools import islice

from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.model.competition import Competition
from tallywire.measure.figures import Cell, FigureTable, Goal
from tallywire.measure.long_heat import HEAT, START_UNIX_MS, long_competition, started, taps
from tallywire.measure.scale import Scale
from tallywire.measure.turns import in_turn

LANES = 10
_ADDED = 100


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Add facts to a heat that has few already, or many, and ask each time what the heat is."""
    sizes = scale.sized((100, 2_000, 10_000), quick=(100, 400))
    orders = {"after all others": 0, "a hundred late": 100}
    # One workout for all of them: a longer one has more stations, whatever was tapped.
    competition = long_competition(lanes=LANES, taps=sizes[-1] + _ADDED + max(orders.values()))
    ways = {
        f"{size} {name}": partial(_fold_us, competition, size, late) for size in sizes for name, late in orders.items()
    }
    found = in_turn(ways, scale)
    rows: tuple[tuple[Cell, ...], ...] = tuple((size, *(found[f"{size} {name}"] for name in orders)) for size in sizes)
    [few, many] = (found[f"{size} after all others"] for size in (sizes[0], sizes[-1]))
    yield FigureTable(
        title=f"One tap into the books of {LANES} lanes and the heat's state with its places, µs of the processor",
        columns=("facts before", *orders),
        rows=rows,
        goals=(Goal(says=f"a tap at {sizes[-1]} facts over one at {sizes[0]}", found=many.over(few), bound=1.5),),
    )


def _fold_us(competition: Competition, size: int, late: int) -> float:
    """Give the time of one tap; `late` is how many taps came before those that are added."""
    coming = taps(lanes=LANES)
    book = CompetitionBook(competition, [started(), *islice(coming, size)])
    added = list(islice(coming, _ADDED + late))
    for fact in added[_ADDED:]:
        book.add(fact)
    _look(book, added[-1])
    begun = time.thread_time()
    for fact in added[:_ADDED]:
        book.add(fact)
        _look(book, added[-1])
    return (time.thread_time() - begun) * 1e6 / _ADDED


def _look(book: CompetitionBook, last: Fact) -> HeatState:
    return book.at(unix_ms=START_UNIX_MS + last.at_ms).heat(HEAT).state
