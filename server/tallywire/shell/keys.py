"""The plain keys that one start of the server makes: printed where that is safe, kept nowhere."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

_KEY_BYTES = 18


@dataclass(frozen=True, slots=True)
class Keys:
    """The table's key, the lanes' keys and the graphics desk's. They are left out of its `repr`, and so out of logs."""

    table: str = field(repr=False)
    lanes: Mapping[int, str] = field(repr=False)
    desk: str = field(repr=False, default="")

    def lane(self, number: int) -> str:
        """Give a lane's key. Raises KeyError for a lane that no heat has."""
        return self.lanes[number]

    def each(self) -> list[tuple[str, int | None, str]]:
        """Give role, lane and key of each."""
        return [
            ("table", None, self.table),
            ("desk", None, self.desk),
            *(("lane", *item) for item in self.lanes.items()),
        ]


def make_key() -> str:
    """Draw a key: 144 random bits, safe in an address."""
    return secrets.token_urlsafe(_KEY_BYTES)


def make_keys(lanes: Iterable[int]) -> Keys:
    """Draw a key for the table, for the desk and for each lane."""
    return Keys(make_key(), {number: make_key() for number in lanes}, make_key())
