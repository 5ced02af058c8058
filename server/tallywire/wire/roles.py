"""The roles a link can have, in one table: what each may send, what it may see, and its page."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from tallywire.core.facts import (
    FACT_TYPES,
    SHOW_FACTS,
    AppealDecided,
    AttemptDeclared,
    AttemptFailed,
    AttemptMade,
    BlockCompleted,
    BoothFact,
    CountCorrected,
    DidNotStart,
    Disqualified,
    Exchanged,
    Fact,
    FactVoided,
    Finished,
    HeatSigned,
    HoldPlaced,
    HoldReleased,
    NoRepCalled,
    NoteMarked,
    NoteSent,
    PenaltyGiven,
    PointsDeducted,
    RepCounted,
    SheetChecked,
    Withdrawn,
)
from tallywire.core.fold.counters import BACKUP

PAD_FACTS: tuple[type[Fact], ...] = (
    RepCounted,
    BlockCompleted,
    NoRepCalled,
    Finished,
    AttemptDeclared,
    AttemptMade,
    AttemptFailed,
    Exchanged,
    Withdrawn,
    FactVoided,
)
"""What a lane's judge sees, and therefore may send."""
MACHINE_FACTS: tuple[type[Fact], ...] = (RepCounted, BlockCompleted, Finished, FactVoided)
BACKUP_FACTS: tuple[type[Fact], ...] = tuple(kind for kind in PAD_FACTS if kind is not Withdrawn)
"""What a second judge counts beside the first: it is held against the first one's count and never part of it."""
HEAD_FACTS: tuple[type[Fact], ...] = (
    CountCorrected,
    PenaltyGiven,
    PointsDeducted,
    DidNotStart,
    Disqualified,
    HoldPlaced,
    HoldReleased,
    SheetChecked,
    AppealDecided,
    HeatSigned,
    FactVoided,
)


SPOTTER = "spotter"
TABLE_VIEW, BOOTH_VIEW = "table", "booth"
"""Views that not everybody may watch."""
NOTE_COST = 500
"""How many taps a note, or a mark of one, weighs in what a link may send: nobody types two a second."""
_AT_THE_TABLE, _IN_THE_BOOTH = frozenset({TABLE_VIEW}), frozenset({BOOTH_VIEW})


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """What a link of this role opens.

    `facts` are those it may send, for its own lane where a link names one; sender names begin with the role's name.
    With `of_floor` a link may be for one of several floors: its page opens there, and where it counts, it counts there
    alone. With `counts` it may send only in heats that are called or running. With `voids_own` it may void only its own
    sender's facts. `sees` names the views it may watch of those that not everybody may. A fact weighs `cost` taps.
    `page` is the address below the server's.
    """

    name: str
    words: str
    page: str
    lane: Literal["never", "may", "always"] = "never"
    facts: tuple[type[Fact], ...] = ()
    counts: bool = False
    voids_own: bool = False
    sees: frozenset[str] = frozenset()
    cost: int = 1
    manages: bool = False
    of_floor: bool = True

    @property
    def sends(self) -> bool:
        """True when it may send facts at all, under a sender's name."""
        return bool(self.facts)

    @property
    def is_told_of(self) -> bool:
        """True when its devices have a part in the story of a heat."""
        return TABLE_VIEW in self.sees or any(issubclass(kind, BoothFact) for kind in self.facts)

    def takes(self, lane: int | None) -> bool:
        """Tell whether a link of this role can name this lane, or none."""
        return self.lane != "always" if lane is None else self.lane != "never"

    def opening(self, lane: int | None, floor: str = "") -> str:
        """Give the beginning of its senders' names."""
        where = ([str(lane)] + ([floor] if floor else [])) if self.lane == "always" else []
        return "".join(f"{each}-" for each in [self.name, *where])

    def title(self, lane: int | None, floor: str = "") -> str:
        """Name it for people, with its lane and the name of its floor."""
        what = self.words if lane is None else f"{self.words} {lane}"
        return f"{what}, {floor}" if floor else what

    def path(self, lane: int | None, floor: str = "") -> str:
        """Give the address of its page below the server's, without the key."""
        asked = (
            ([f"lane={lane}"] + ([f"role={self.name}"] if self.name != "lane" else [])) if self.lane == "always" else []
        )
        asked += [f"floor={floor}"] if floor and self.page else []
        return self.page + ("&" if "?" in self.page else "?") + "&".join(asked) if asked else self.page

    def floor_fault(self, lane: int | None, floor: str, floors: Collection[str]) -> str | None:
        """Say what is wrong with a floor that is named, or not, for this role and lane; None when nothing is."""
        if floor and not (floors and self.of_floor):
            return f"found floor {floor}, expected none for {self.words}"
        if (floor and floor not in floors) or (floors and lane is not None and not floor):
            return f"found floor {floor or 'missing'}, expected one of {', '.join(floors)} for {self.words}"
        return None


ROLES: Mapping[str, Role] = {
    role.name: role
    for role in (
        Role(
            name="lane",
            words="lane pad",
            page="pad/",
            lane="always",
            facts=PAD_FACTS,
            counts=True,
            voids_own=True,
            sees=_AT_THE_TABLE,
        ),
        Role(
            name=BACKUP,
            words="backup counter",
            page="pad/",
            lane="always",
            facts=BACKUP_FACTS,
            counts=True,
            voids_own=True,
            sees=_AT_THE_TABLE,
        ),
        Role(
            name="table",
            words="scoring table",
            page="table/",
            facts=FACT_TYPES,
            sees=_AT_THE_TABLE | _IN_THE_BOOTH,
            manages=True,
        ),
        Role(
            name="head",
            words="head judge",
            page="table/?role=head",
            facts=HEAD_FACTS,
            sees=_AT_THE_TABLE | _IN_THE_BOOTH,
        ),
        Role(name="desk", words="graphics desk", page="desk/", facts=SHOW_FACTS, sees=_IN_THE_BOOTH, of_floor=False),
        Role(
            name="commentator",
            words="commentator",
            page="call/",
            facts=(NoteMarked,),
            sees=_IN_THE_BOOTH,
            cost=NOTE_COST,
        ),
        Role(
            name=SPOTTER,
            words="spotter",
            page="spotter/",
            facts=(NoteSent, FactVoided),
            voids_own=True,
            sees=_IN_THE_BOOTH,
            cost=NOTE_COST,
        ),
        Role(name="display", words="display", page="board/"),
        Role(
            name="machine",
            words="machine source",
            page="",
            lane="may",
            facts=MACHINE_FACTS,
            counts=True,
            voids_own=True,
        ),
    )
}
"""Every role a link can have. A viewer has no role and needs no link."""
OWNER = Role(name="owner", words="the server's own machine", page="", manages=True)
"""The role of the command line, which can read the running server's data folder. It is not used on the wire."""
