"""Facts: what happened, in the past tense, one dataclass each.

A fact has an `id` made by whoever sent it, the `heat`, the time on the heat clock `at_ms`, its `sender` and the
sender's own `sequence` (1, 2, 3 …), and may say how far off `at_ms` can be (`uncertain_ms`) and by which `start` its
clock ran. `heat` facts concern everyone on the floor, `LaneFact`s one lane.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """What every fact carries."""

    id: str
    heat: str
    at_ms: int
    sender: str
    sequence: int
    uncertain_ms: int | None = None
    start: str | None = None

    @property
    def order(self) -> tuple[int, str, int]:
        """The one order in which all facts are read: by heat clock, then by sender, then by the sender's own number."""
        return (self.at_ms, self.sender, self.sequence)


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneFact(Fact):
    """A fact about one lane."""

    lane: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStarted(Fact):
    """The clock of the heat stood at `at_ms` (normally 0) when wall time was `unix_ms`."""

    unix_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCalled(Fact):
    """The heat was called to the floor at wall time `unix_ms`, before its start: pads and pictures turn to it."""

    unix_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatRecalled(Fact):
    """The start with the id `recalls` was false: what was counted before the next start never counts."""

    recalls: str
    unix_ms: int
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatEnded(Fact):
    """The officials ended the heat; nothing later counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepCounted(LaneFact):
    """`n` more units of the current station were done (repetitions, metres, calories …), in a team by `member`."""

    n: int = 1
    member: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockCompleted(LaneFact):
    """The current station, credited one for the whole block, was completed, in a team by `member`."""

    member: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRepCalled(LaneFact):
    """An attempt did not meet the movement standard. It never lowers the count."""

    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountCorrected(LaneFact):
    """The table set the cumulative number of the lane to `scored_reps` as of this moment."""

    scored_reps: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished(LaneFact):
    """The judge saw the lane finish."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn(LaneFact):
    """The entry stopped and will not go on."""

    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FactVoided(Fact):
    """The fact with the id `voids` never happened.

    `lane` is the lane of that fact; it is left out for a fact about the heat.
    """

    voids: str
    lane: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptDeclared(LaneFact):
    """The next attempt will be at this load, in thousandths of the workout's unit (100 kg = 100000)."""

    load_milli: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptMade(LaneFact):
    """The declared attempt was a good lift."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptFailed(LaneFact):
    """The declared attempt was no lift."""

    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchanged(LaneFact):
    """In a relay the work passed to `member` (counted from 1)."""

    member: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PenaltyGiven(LaneFact):
    """The head judge took `reps` from the count or added `ms` to the time."""

    reason: str
    reps: int = 0
    ms: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PointsDeducted(LaneFact):
    """The head judge took `points` from the entry's overall standing."""

    points: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DidNotStart(LaneFact):
    """The entry was not on its lane at the start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disqualified(LaneFact):
    """The head judge disqualified the entry from the event."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPlaced(LaneFact):
    """A medical hold: the lane's numbers are off the air until a person releases it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldReleased(LaneFact):
    """The medical hold on the lane was released."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetChecked(LaneFact):
    """The lane's scoresheet was compared with the count and agrees."""

    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSigned(Fact):
    """The head judge signed the heat: the result that has this `digest` is official."""

    by: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AppealDecided(LaneFact):
    """An appeal about the lane was decided; what it changes stands in facts of its own, made before this one."""

    by: str
    reason: str
    upheld: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowFact(Fact):
    """A fact about what viewers see on an output. It never touches a count, and is read in the order of wall time.

    `heat` is the heat that was on the floor and `at_ms` its clock, so that a rehearsal replays it at its moment.
    """

    output: str
    unix_ms: int

    @property
    def order(self) -> tuple[int, str, int]:
        """A show spans heats whose clocks all begin at 0, so its order is by wall time, then sender, then number."""
        return (self.unix_ms, self.sender, self.sequence)


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewTaken(ShowFact):
    """A view with its parameters went to programme, by the `operator` or the desk's `automatic` mode."""

    view: str
    params: Mapping[str, str]
    by: str = "operator"


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewCleared(ShowFact):
    """The output was cleared, by the `operator` or the desk's `automatic` mode."""

    by: str = "operator"


@dataclass(frozen=True, slots=True, kw_only=True)
class DelaySet(ShowFact):
    """From now on the output shows numbers and clock `delay_ms` after they were made."""

    delay_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AutomaticSet(ShowFact):
    """The desk that sent this will propose or take views by rule on the output, or no longer (`off`)."""

    automatic: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RundownEdited(ShowFact):
    """From `line` on `gone` lines of the rundown with digest `before` gave way to those `added`, in change `edit`."""

    # Of another rundown than that it changes nothing: somebody else was first. An added line has its `view`, and as far
    # as they are needed `who`, `heat`, `part` and `name`.

    edit: int
    before: str
    line: int
    gone: int
    added: Sequence[Mapping[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoothFact(Fact):
    """A fact for the commentators' booth. It never touches a count or a picture, and is read in the order of wall time.

    `heat` is the heat that was on the floor and `at_ms` its clock. `lane` is left out for what is about no lane.
    """

    unix_ms: int
    lane: int | None = None

    @property
    def order(self) -> tuple[int, str, int]:
        """Before the start every heat clock is at 0, so the order is by wall time, then sender, then number."""
        return (self.unix_ms, self.sender, self.sequence)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteSent(BoothFact):
    """A spotter told the commentators something. It is never on the air."""

    text: str
    spotter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteMarked(BoothFact):
    """A commentator marked a note, or a fact of the competition file, for the whole booth: `item` names it."""

    item: str
    mark: str


HEAT_FACTS: tuple[type[Fact], ...] = (HeatCalled, HeatStarted, HeatRecalled, HeatEnded, HeatSigned)
WORK_FACTS: tuple[type[LaneFact], ...] = (
    RepCounted,
    BlockCompleted,
    NoRepCalled,
    CountCorrected,
    Finished,
    AttemptDeclared,
    AttemptMade,
    AttemptFailed,
    Exchanged,
)
"""What a format counts."""
CONDUCT_FACTS: tuple[type[LaneFact], ...] = (
    Withdrawn,
    DidNotStart,
    Disqualified,
    PenaltyGiven,
    PointsDeducted,
    HoldPlaced,
    HoldReleased,
    SheetChecked,
    AppealDecided,
)
"""What holds in every format."""
LANE_FACTS: tuple[type[LaneFact], ...] = WORK_FACTS + CONDUCT_FACTS
SHOW_FACTS: tuple[type[ShowFact], ...] = (ViewTaken, ViewCleared, DelaySet, AutomaticSet, RundownEdited)
"""What the graphics desk sends."""
BOOTH_FACTS: tuple[type[BoothFact], ...] = (NoteSent, NoteMarked)
"""What spotters and commentators send."""
ASIDE: tuple[type[ShowFact], type[BoothFact]] = (ShowFact, BoothFact)
"""Facts beside the counts of a heat: their order is that of wall time."""
FACT_TYPES: tuple[type[Fact], ...] = (*HEAT_FACTS, *LANE_FACTS, FactVoided, *SHOW_FACTS, *BOOTH_FACTS)


def wire_name(fact_type: type[Fact]) -> str:
    """Give the name a fact has on the wire: RepCounted → rep_counted."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", fact_type.__name__).lower()
