"""Events and standings for tests, from plain lines of places or points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, StepTable, Table
from tallywire.core.ranking.standing import Entrant, EventScores, Scored, StandingRow

TEN_STEP = StepTable(first=100, step=10)
LOW_POINT = FormulaTable(Formula("place"))


def entrants(names: Sequence[str] | Mapping[str, object], **before: int) -> list[Entrant]:
    """Entrants by name with what they bring."""
    return [Entrant(entry=name, before=Fraction(before.get(name, 0))) for name in names]


def by_places(lines: Mapping[str, Sequence[int | None]], table: Table = TEN_STEP) -> list[EventScores]:
    """Events e1, e2 … from each entry's places in them; None: no score yet. Points as the table says at the place."""
    count = max(len(line) for line in lines.values())
    return [
        EventScores(
            event=f"e{index + 1}",
            scores={
                name: Scored(place=place, points=table.points(place, len(lines)))
                for name, line in lines.items()
                if index < len(line) and (place := line[index]) is not None
            },
        )
        for index in range(count)
    ]


def places_of(rows: Sequence[StandingRow]) -> dict[str, int]:
    """Places by entry."""
    return {row.entry: row.place for row in rows}


def line(rows: Sequence[StandingRow]) -> str:
    """The standing on one line: place, entry and total of each row."""
    return ", ".join(f"{row.place} {row.entry} {row.total}" for row in rows)
