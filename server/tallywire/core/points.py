"""What a place is worth."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PointsTable:
    """Points by place, first place first. A place past the end of the table is worth nothing."""

    values: tuple[int, ...]

    def worth(self, place: int) -> int:
        """Points for a place, counted from 1. Tied entries ask for the better place they share."""
        return self.values[place - 1] if 1 <= place <= len(self.values) else 0
