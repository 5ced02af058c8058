"""The plain keys that one start of the server makes: printed where that is safe, kept nowhere."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from tallywire.core.model.competition import FloorLane

_KEY_BYTES = 18


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of the table, the lanes, the graphics desk and the booth. They are left out of its `repr`, and so out of
    logs."""

    table: str = field(repr=False)
    lanes: Mapping[FloorLane, str] = field(repr=False)
    desk: str = field(repr=False, default="")
    commentator: str = field(repr=False, default="")
    spotter: str = field(repr=False, default="")

    def lane(self, number: int, floor: str = "") -> str:
        """Give a lane's key. Raises KeyError for a lane that no heat has."""
        return self.lanes[FloorLane(floor=floor, lane=number)]

    def each(self) -> list[tuple[str, FloorLane | None, str]]:
        """Give role, lane and key of each that was drawn."""
        crew = {"table": self.table, "desk": self.desk, "commentator": self.commentator, "spotter": self.spotter}
        lanes = self.lanes.items()
        return [(role, None, key) for role, key in crew.items() if key] + [("lane", *item) for item in lanes]


def make_key() -> str:
    """Draw a key: 144 random bits, safe in an address."""
    return secrets.token_urlsafe(_KEY_BYTES)


def make_keys(lanes: Iterable[FloorLane]) -> Keys:
    """Draw a key for the table, the desk, the booth and each lane."""
    return Keys(make_key(), {each: make_key() for each in lanes}, make_key(), make_key(), make_key())
