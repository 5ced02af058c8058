"""The floors: each holds one heat at a time, the last one called to it or started."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from tallywire.core.model.competition import Competition

FLOOR = "floor"
"""Used instead of a heat's id to mean whichever heat is on the floor; of several floors, on the first of the file."""


def floor_name(floor: str) -> str:
    """Give what is used instead of a heat's id to mean whichever heat is on this floor: `floor`, or `floor:ID`."""
    return f"{FLOOR}:{floor}" if floor else FLOOR


def floor_of(name: str, competition: Competition) -> str | None:
    """Give the id of the floor on which a heat is found by its name on the wire; None where the name means nothing."""
    if name in competition.heats:
        return competition.heats[name].floor
    return {FLOOR: competition.floor_ids[0], **{floor_name(each): each for each in competition.floors}}.get(name)


@dataclass(frozen=True, slots=True)
class Floors:
    """Which heat is on each floor, by the floor's id in the order of the file; a floor without a name has the id ""."""

    heats: Mapping[str, str]

    @property
    def first(self) -> str:
        """The heat on the first floor."""
        return next(iter(self.heats.values()))

    def heat_of(self, name: str) -> str:
        """Give the id of a heat by its name on the wire: its id, `floor`, or `floor:` and a floor's id."""
        if name == FLOOR:
            return self.first
        kind, colon, floor = name.partition(":")
        return self.heats.get(floor, name) if colon and kind == FLOOR else name

    def moved(self, now: Floors) -> set[str]:
        """Give the heats that were on a floor and are on it no longer `now`, and those that took their places."""
        return set().union(
            *({heat, now.heats[floor]} for floor, heat in self.heats.items() if heat != now.heats[floor])
        )

    def names(self, heats: Iterable[str]) -> set[str]:
        """Give the names under which these heats are watched: their ids, and those of the floors that they are on."""
        found = set(heats)
        on = {floor_name(floor) for floor, heat in self.heats.items() if heat in found}
        return found | on | ({FLOOR} if self.first in found else set())
