"""What would be if it had gone otherwise: a no-rep here, a withdrawal there, in a copy of what was recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from tallywire.core.facts import WORK_FACTS, CountCorrected, Fact, NoRepCalled, Withdrawn
from tallywire.core.rehearsal.placing import Placed

SENDER = "table-what-if"
_WORK = tuple(kind for kind in WORK_FACTS if kind is not CountCorrected)
"""What a judge counts."""
_LEAST_MS, _MOST_MS = 500, 20_000
"""A repetition takes no less and no more than this, whatever the taps say: half a second, a rope climb."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """One change: what happens to which lane of a heat, and at which time on its clock."""

    kind: Literal["no_rep", "withdrawal"]
    heat: str
    lane: int
    at_ms: int


def changed(placed: Sequence[Placed], changes: Sequence[WhatIf]) -> list[Placed]:
    """Give the facts as they would be told with these changes, made one after the other.

    A no-rep is called at the lane's first tap from that time on. The athlete does the repetition again, so that one
    and all later work of the lane come later by the time that a repetition takes. Those who withdraw do nothing more.
    """
    found = list(placed)
    for number, change in enumerate(changes, start=1):
        make = _no_rep if change.kind == "no_rep" else _withdrawal
        found = sorted(make(found, change, number), key=lambda each: each.at_ms)
    return found


def _no_rep(placed: Sequence[Placed], change: WhatIf, number: int) -> list[Placed]:
    work = [each for each in placed if _is_of(each.fact, change)]
    later = [each for each in work if each.fact.at_ms >= change.at_ms]
    if not later:
        return list(placed)
    tap, before = later[0], [each for each in work if each.fact.at_ms < later[0].fact.at_ms]
    took_ms = tap.fact.at_ms - (before[-1].fact.at_ms if before else 0)
    again_ms = min(max(took_ms, _LEAST_MS), _MOST_MS)
    moved = {each.fact.id for each in later}
    called = NoRepCalled(lane=change.lane, **_said(change, number, tap.fact.at_ms))
    rest = [_later(each, again_ms) if each.fact.id in moved else each for each in placed]
    return [Placed(tap.at_ms, called), *rest]


def _withdrawal(placed: Sequence[Placed], change: WhatIf, number: int) -> list[Placed]:
    gone = {each.fact.id for each in placed if _is_of(each.fact, change) and each.fact.at_ms >= change.at_ms}
    rest = [each for each in placed if each.fact.id not in gone]
    told = [each.at_ms for each in placed if each.fact.heat == change.heat and each.fact.at_ms >= change.at_ms]
    last_ms = placed[-1].at_ms if placed else 0
    left = Withdrawn(lane=change.lane, **_said(change, number, change.at_ms))
    return [*rest, Placed(min(told, default=last_ms), left)]


def _is_of(fact: Fact, change: WhatIf) -> bool:
    return isinstance(fact, _WORK) and fact.heat == change.heat and fact.lane == change.lane


def _later(each: Placed, ms: int) -> Placed:
    return Placed(each.at_ms + ms, replace(each.fact, at_ms=each.fact.at_ms + ms))


def _said(change: WhatIf, number: int, at_ms: int) -> dict[str, Any]:
    return {"id": f"what-if-{number}", "heat": change.heat, "at_ms": at_ms, "sender": SENDER, "sequence": number}
