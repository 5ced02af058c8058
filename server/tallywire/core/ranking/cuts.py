"""Cuts: after a named event only the best n of the standing go on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum

from tallywire.core.ranking.standing import StandingRow, deciding_rule
from tallywire.core.ranking.tie_rules import TieRule


class CutTies(StrEnum):
    """What happens when the last entry in and the first entry out have equal points.

    BY_TIE_RULES: the standing's tie rules decide; those who still share the place across the line go on.
    KEEP_ALL: all with equal points go on and the tie rules are not asked, so that more than n may go on. NONE: none of
    those with equal points goes on, so that fewer than n do, and nobody at all if all are level.
    """

    BY_TIE_RULES = "by_tie_rules"
    KEEP_ALL = "keep_all"
    NONE = "none"


class CutReason(StrEnum):
    """Why an entry goes on or not: points alone, equal points on both sides of the line, a tie rule, or having left."""

    POINTS = "points"
    LEVEL = "level"
    TIE_RULE = "tie_rule"
    UNAVAILABLE = "unavailable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The best `size` go on. Raises ValueError for a size below 1."""

    size: int
    ties: CutTies = CutTies.BY_TIE_RULES

    def __post_init__(self) -> None:
        if self.size < 1:
            raise ValueError(f"found a cut to {self.size}, expected at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class CutDecision:
    """Whether an entry goes on and why. `rule` is the tie rule that decided, where one did."""

    entry: str
    place: int
    goes_on: bool
    reason: CutReason
    rule: TieRule | None = None


def cut(rows: Sequence[StandingRow], rule: Cut, *, unavailable: Collection[str] = ()) -> tuple[CutDecision, ...]:
    """Decide for every row of a standing, in its order.

    Entries in `unavailable` (withdrawn from the competition, say) do not go on and take nobody's place: the next one
    moves up.
    """
    able = [row for row in rows if row.entry not in unavailable]
    decided = {row.entry: _out(row) for row in rows if row.entry in unavailable}
    if len(able) <= rule.size:
        decided |= {row.entry: _decision(row, CutReason.POINTS, goes_on=True) for row in able}
    else:
        last_in, first_out = able[rule.size - 1 : rule.size + 1]
        decided |= {row.entry: _decide(row, first_out, rule, inside=True) for row in able[: rule.size]}
        decided |= {row.entry: _decide(row, last_in, rule, inside=False) for row in able[rule.size :]}
    return tuple(decided[row.entry] for row in rows)


def _decide(row: StandingRow, across: StandingRow, rule: Cut, *, inside: bool) -> CutDecision:
    """Compare a row with the nearest one across the line."""
    by = deciding_rule(row, across)
    if by is None:
        return _decision(row, CutReason.POINTS, goes_on=inside)
    if rule.ties is not CutTies.BY_TIE_RULES:
        return _decision(row, CutReason.LEVEL, goes_on=rule.ties is CutTies.KEEP_ALL)
    if by is TieRule.SHARED:
        return _decision(row, CutReason.LEVEL, goes_on=True)
    return _decision(row, CutReason.TIE_RULE, goes_on=inside, rule=by)


def _out(row: StandingRow) -> CutDecision:
    return _decision(row, CutReason.UNAVAILABLE, goes_on=False)


def _decision(row: StandingRow, reason: CutReason, *, goes_on: bool, rule: TieRule | None = None) -> CutDecision:
    return CutDecision(entry=row.entry, place=row.place, goes_on=goes_on, reason=reason, rule=rule)
