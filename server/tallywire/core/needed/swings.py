"""What an event does to the overall standing: places before and after, with arrows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from tallywire.core.needed.race import Race, Worth, flat
from tallywire.core.points import award
from tallywire.core.ranking import places


class Arrow(StrEnum):
    """Which way a place went."""

    UP = "up"
    DOWN = "down"
    LEVEL = "level"


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """One entry's overall standing before and after. `event_place` is None for who has no result in the event yet."""

    entry: str
    event_place: int | None
    points_before: Fraction
    gained: Fraction
    place_before: int
    place_after: int

    @property
    def points_after(self) -> Fraction:
        """Overall points with the event."""
        return self.points_before + self.gained

    @property
    def moved(self) -> int:
        """Overall places won (positive) or lost (negative)."""
        return self.place_before - self.place_after

    @property
    def arrow(self) -> Arrow:
        """Which way the overall place goes."""
        if self.moved == 0:
            return Arrow.LEVEL
        return Arrow.UP if self.moved > 0 else Arrow.DOWN


def swings(race: Race, levels: Sequence[Sequence[str]]) -> list[Swing]:
    """Give the swings if the event ended in this order (levels best first), by overall place after it.

    "As it stands" leaves out of `levels` who has not been on the floor yet: they gain nothing so far. "If it ends
    now" has everyone in it. Those in the race's `out` gain nothing.
    """
    worth = Worth(race)
    results = {entry: (place, size) for entry, place, size in flat(levels)}
    gains = {entry: worth.cell(place, size) for entry, (place, size) in results.items()} | dict.fromkeys(
        race.out, worth.out
    )
    first = places({each.entry: (-worth.before[each.entry], each.places[-1:]) for each in race.contenders})
    last = places({entry: -before - gains.get(entry, 0) for entry, before in worth.before.items()})
    earned = award(
        {entry: place for entry, (place, _) in results.items()},
        race.table,
        ties=race.ties,
        field=len(race.contenders),
    )
    found = [
        Swing(
            entry=each.entry,
            event_place=results[each.entry][0] if each.entry in results else None,
            points_before=Fraction(each.points),
            gained=earned.get(each.entry, Fraction(0)),
            place_before=first[each.entry],
            place_after=last[each.entry],
        )
        for each in race.contenders
    ]
    return sorted(found, key=lambda swing: (swing.place_after, swing.place_before))
