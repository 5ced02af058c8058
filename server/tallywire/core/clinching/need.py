"""What one entry can still come to in the overall standing."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One entry's prospects. To lead is to have nobody ahead overall: level after every tie rule is leading too.

    `possible` are the places in the event it can still have; with one of `clinching` it leads overall whatever the
    others do, with one of `leading` it leads if some others finish low enough. While several scores of the event are
    open a place is meant in each of them. `best` and `worst` are the overall places within reach.
    """

    entry: str
    possible: tuple[int, ...]
    clinching: tuple[int, ...]
    leading: tuple[int, ...]
    best: int
    worst: int

    @property
    def clinched(self) -> bool:
        """Whether it leads overall in every order, new ties included."""
        return self.worst == 1

    @property
    def alive(self) -> bool:
        """Whether it can still lead overall."""
        return self.best == 1

    def can_reach(self, last: int) -> bool:
        """Whether an overall place up to `last` is possible: 3 for the podium, the cut's number for the cut."""
        return self.best <= last

    def safe_for(self, last: int) -> bool:
        """Whether an overall place up to `last` is certain."""
        return self.worst <= last
