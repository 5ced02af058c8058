"""The published decathlon, from performances to places, points and totals, through a table for every discipline."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import floor

from core.published import published_rows
from core.standing_samples import entrants, places_of
from tallywire.core.ranking.places import event_places
from tallywire.core.ranking.points import PointsTable, award
from tallywire.core.ranking.standing import EventScores, Scored, standing

TRACK = {
    "100m": (25.4347, 18, 1.81),
    "400m": (1.53775, 82, 1.81),
    "110m.hurdle": (5.74352, 28.5, 1.92),
    "1500m": (0.03768, 480, 1.85),
}
JUMPS = {"Long.jump": (0.14354, 220, 1.4), "High.jump": (0.8465, 75, 1.42), "Pole.vault": (0.2797, 100, 1.35)}
THROWS = {"Shot.put": (51.39, 1.5, 1.05), "Discus": (12.91, 4, 1.1), "Javeline": (10.14, 7, 1.08)}
"""A, B and C of the published scoring tables for combined events (World Athletics; typed from memory), by column of the
data: points are the whole part of A (B - seconds)^C, or of A (performance - B)^C with jumps in cm and throws in m."""


def worth(discipline: str, performance: str) -> int:
    """The published formula."""
    value = float(performance)
    a, b, c = (TRACK | JUMPS | THROWS)[discipline]
    beyond = b - value if discipline in TRACK else (round(100 * value) if discipline in JUMPS else value) - b
    return floor(a * float(beyond**c))


def scores(field: Mapping[str, str], discipline: str) -> EventScores:
    """One discipline: placed by hundredths, paid by a table that has the formula's points in the order of places."""
    sign = 1 if discipline in TRACK else -1
    placed = event_places([{who: (sign * round(100 * float(each)),) for who, each in field.items()}])
    table = PointsTable(tuple(sorted((worth(discipline, each) for each in field.values()), reverse=True)))
    points = award(placed, table)
    assert points == {who: worth(discipline, each) for who, each in field.items()}
    return EventScores(
        event=discipline, scores={who: Scored(place=placed[who], points=Fraction(points[who])) for who in field}
    )


def test_ten_disciplines_make_the_published_totals_and_ranks() -> None:
    """34 of 41 totals to the point and the others within four (the data has rounded performances), and 41 of 41 ranks.

    Source: prince, decathlon.csv; the formula of the scoring tables for combined events.
    """
    head, *lines = published_rows("prince", "datasets", "decathlon.csv")
    rank, total, meeting = (head.index(name) for name in ("Rank", "Points", "Competition"))
    off, ranks = [], 0
    for name in sorted({each[meeting] for each in lines}):
        field = {f"{each[0]} {n}": each for n, each in enumerate(lines) if each[meeting] == name}
        events = [
            scores({who: each[head.index(discipline)] for who, each in field.items()}, discipline)
            for discipline in (*TRACK, *JUMPS, *THROWS)
        ]
        rows = standing(entrants(field), events)
        off += [abs(row.total - int(field[row.entry][total])) for row in rows]
        ranks += sum(place == int(field[who][rank]) for who, place in places_of(rows).items())
    assert (len(off), off.count(Fraction(0)), max(off)) == (41, 34, Fraction(4))
    assert ranks == 41
