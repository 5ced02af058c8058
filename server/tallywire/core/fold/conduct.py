"""What holds for a lane in every format: withdrawal, penalties, holds and the checks of its scoresheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from tallywire.core.facts import (
    AppealDecided,
    DidNotStart,
    Disqualified,
    Fact,
    HoldPlaced,
    HoldReleased,
    PenaltyGiven,
    PointsDeducted,
    SheetChecked,
    Withdrawn,
)
from tallywire.core.formats.base import Outcome, Status


@dataclass(slots=True)
class Conduct:
    """What one lane's conduct facts add up to. Times are on the heat clock; None means that it has not happened."""

    withdrawn_ms: int | None = None
    did_not_start: bool = False
    disqualified: bool = False
    penalty_reps: int = 0
    penalty_ms: int = 0
    held: bool = False
    checked: bool = False
    appeals: list[AppealDecided] = field(default_factory=list)
    penalties: list[PenaltyGiven] = field(default_factory=list)
    deductions: list[PointsDeducted] = field(default_factory=list)

    @property
    def status(self) -> Status | None:
        """The status that overrides what the work alone would give, or None."""
        if self.disqualified:
            return Status.DISQUALIFIED
        if self.did_not_start:
            return Status.DID_NOT_START
        return None if self.withdrawn_ms is None else Status.WITHDRAWN


_RESULTS = {Status.DISQUALIFIED: "DSQ", Status.DID_NOT_START: "DNS", Status.WITHDRAWN: "WD"}


def conduct_of(facts: Sequence[Fact]) -> Conduct:
    """Fold one lane's standing facts, in order, into its conduct; other facts are passed over."""
    conduct = Conduct()
    for fact in facts:
        handler = HANDLERS.get(type(fact))
        if handler is not None:
            handler(conduct, fact)
    return conduct


def ruled(outcome: Outcome, conduct: Conduct) -> Outcome:
    """Place those who withdrew, did not start or were disqualified behind all who have a result, all level."""
    status = conduct.status
    if status is None:
        return outcome
    return Outcome(
        status=status,
        key=(9,),
        result=_RESULTS[status],
        score=outcome.score,
        scored_reps=outcome.scored_reps,
        reps_to_go=outcome.reps_to_go,
    )


def _withdraw(conduct: Conduct, fact: Withdrawn) -> None:
    conduct.withdrawn_ms = fact.at_ms


def _did_not_start(conduct: Conduct, _fact: DidNotStart) -> None:
    conduct.did_not_start = True


def _disqualify(conduct: Conduct, _fact: Disqualified) -> None:
    conduct.disqualified = True


def _penalise(conduct: Conduct, fact: PenaltyGiven) -> None:
    conduct.penalties.append(fact)
    conduct.penalty_reps += fact.reps
    conduct.penalty_ms += fact.ms


def _deduct(conduct: Conduct, fact: PointsDeducted) -> None:
    conduct.deductions.append(fact)


def _hold(conduct: Conduct, _fact: HoldPlaced) -> None:
    conduct.held = True


def _release(conduct: Conduct, _fact: HoldReleased) -> None:
    conduct.held = False


def _check(conduct: Conduct, _fact: SheetChecked) -> None:
    conduct.checked = True


def _appeal(conduct: Conduct, fact: AppealDecided) -> None:
    conduct.appeals.append(fact)


HANDLERS: dict[type[Fact], Callable[[Conduct, Any], None]] = {
    Withdrawn: _withdraw,
    DidNotStart: _did_not_start,
    Disqualified: _disqualify,
    PenaltyGiven: _penalise,
    PointsDeducted: _deduct,
    HoldPlaced: _hold,
    HoldReleased: _release,
    SheetChecked: _check,
    AppealDecided: _appeal,
}
