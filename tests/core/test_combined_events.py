"""The published decathlon and heptathlon, from performances to places, points and totals, a table a discipline."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import floor

from core.published import published_rows
from core.standing_samples import entrants, places_of
from tallywire.core.ranking.places import event_places
from tallywire.core.ranking.points import PointsTable, award
from tallywire.core.ranking.standing import EventScores, Scored, standing

DECATHLON = {
    "100m": (25.4347, 18, 1.81),
    "400m": (1.53775, 82, 1.81),
    "110m.hurdle": (5.74352, 28.5, 1.92),
    "1500m": (0.03768, 480, 1.85),
    "Long.jump": (0.14354, 220, 1.4),
    "High.jump": (0.8465, 75, 1.42),
    "Pole.vault": (0.2797, 100, 1.35),
    "Shot.put": (51.39, 1.5, 1.05),
    "Discus": (12.91, 4, 1.1),
    "Javeline": (10.14, 7, 1.08),
}
HEPTATHLON = {
    "hurdles": (9.23076, 26.7, 1.835),
    "highjump": (1.84523, 75, 1.348),
    "shot": (56.0211, 1.5, 1.05),
    "run200m": (4.99087, 42.5, 1.81),
    "longjump": (0.188807, 210, 1.41),
    "javelin": (15.9803, 3.8, 1.04),
    "run800m": (0.11193, 254, 1.88),
}
TRACK = {"100m", "400m", "110m.hurdle", "1500m", "hurdles", "run200m", "run800m"}
JUMPS = {"Long.jump", "High.jump", "Pole.vault", "highjump", "longjump"}
"""A, B and C of the published scoring tables for combined events (World Athletics; typed from memory), by column of the
data: points are the whole part of A (B - seconds)^C, or of A (performance - B)^C with jumps in cm and throws in m."""


def worth(discipline: str, performance: str) -> int:
    """The published formula."""
    value = float(performance)
    a, b, c = (DECATHLON | HEPTATHLON)[discipline]
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
            for discipline in DECATHLON
        ]
        rows = standing(entrants(field), events)
        off += [abs(row.total - int(field[row.entry][total])) for row in rows]
        ranks += sum(place == int(field[who][rank]) for who, place in places_of(rows).items())
    assert (len(off), off.count(Fraction(0)), max(off)) == (41, 34, Fraction(4))
    assert ranks == 41


SEVEN = """
12.69 1.86 15.80 22.56 7.27 45.66 128.51 7291
12.85 1.80 16.23 23.65 6.71 42.56 126.12 6897
13.20 1.83 14.20 23.10 6.68 44.54 124.20 6858
13.51 1.74 14.76 23.93 6.32 47.46 127.90 6540
13.75 1.83 13.50 24.65 6.33 42.82 125.79 6411
13.38 1.80 12.88 23.59 6.37 40.28 132.54 6351
13.55 1.80 14.13 24.48 6.47 38.00 133.65 6297
13.75 1.86 13.01 25.03 6.34 37.86 131.49 6205
"""
"""Hurdles, high jump, shot, 200 m, long jump, javelin and 800 m of eight women, and the published score, best first.

Source: HSAUR, heptathlon; typed from memory, and confirmed by the scores, which the formula gives to the point.
"""


def test_seven_disciplines_make_the_published_scores() -> None:
    """8 of 8 scores to the point, in the published order."""
    lines = [line.split() for line in SEVEN.split("\n") if line]
    field = {f"row {n}": line for n, line in enumerate(lines)}
    events = [
        scores({who: each[column] for who, each in field.items()}, discipline)
        for column, discipline in enumerate(HEPTATHLON)
    ]
    rows = standing(entrants(field), events)
    assert [(row.entry, row.total) for row in rows] == [(who, Fraction(each[-1])) for who, each in field.items()]
    assert [row.place for row in rows] == [1, 2, 3, 4, 5, 6, 7, 8]
