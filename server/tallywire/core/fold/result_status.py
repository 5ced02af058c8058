"""How far a result has come: live, provisional, official, amended.

A signature names the digest of the result it signs. So a fact that arrives late, from a pad that was offline, cannot
change an official result unnoticed: the digest no longer fits, and the result is provisional until it is signed again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from tallywire.core.facts import AppealDecided, HeatSigned
from tallywire.core.fold.snapshot import HeatSnapshot


class Stage(StrEnum):
    """How official a result is. Only the last two stages may be printed without the word unofficial."""

    LIVE = "live"
    PROVISIONAL = "provisional"
    OFFICIAL = "official"
    AMENDED = "amended"

    @property
    def is_official(self) -> bool:
        """Whether the head judge has signed the result as it stands."""
        return self in (Stage.OFFICIAL, Stage.AMENDED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultStatus:
    """How official a heat's result is, and why.

    `unchecked` lists lanes whose scoresheet is still to be compared; `changed` is True when the result is no longer
    the one that was signed. `appeals` are those decided, in order.
    """

    stage: Stage
    digest: str
    signed_by: str | None
    unchecked: tuple[int, ...]
    changed: bool
    appeals: tuple[AppealDecided, ...]


def result_status(heat: HeatSnapshot) -> ResultStatus:
    """Tell how official the result of a heat is.

    It is live until the heat is over and the scoresheet of every lane that started has been checked; then it is
    provisional; it is official when the last signature names the present result, and amended when an appeal was granted
    between two signatures.
    """
    return heat.once("status", lambda: _status(heat))


def _status(heat: HeatSnapshot) -> ResultStatus:
    digest = result_digest(heat)
    signatures = [fact for fact in heat.facts if isinstance(fact, HeatSigned)]
    appeals = tuple(appeal for lane in heat.heat.lanes for appeal in heat.conduct(lane).appeals)
    unchecked = tuple(lane for lane in heat.heat.lanes if _needs_check(heat, lane))
    signed = bool(signatures) and signatures[-1].digest == digest
    return ResultStatus(
        stage=_stage(over=heat.over, unchecked=bool(unchecked), signed=signed, again=_again(signatures, appeals)),
        digest=digest,
        signed_by=signatures[-1].by if signed else None,
        unchecked=unchecked,
        changed=bool(signatures) and not signed,
        appeals=tuple(sorted(appeals, key=lambda appeal: appeal.order)),
    )


def result_digest(heat: HeatSnapshot) -> str:
    """Give 16 hexadecimal digits (of SHA-256, FIPS 180-4) that stand for the result: entry, key and text by lane."""
    lines = []
    for lane in heat.heat.lanes:
        outcome = heat.outcome(lane)
        key = ",".join(map(str, outcome.key))
        # As it was written when the first heats were signed, so that their digests still fit.
        text = "1 reps" if outcome.result == "1 rep" else outcome.result
        lines.append(f"{lane}|{heat.heat.lanes[lane]}|{outcome.status}|{key}|{text}")
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]


def weakest(stages: Sequence[Stage]) -> Stage:
    """Give the stage of several heats together: the least advanced; amended if all are official and one is amended."""
    if not stages:
        return Stage.LIVE
    if all(stage.is_official for stage in stages):
        return max(stages, key=list(Stage).index)
    return min(stages, key=list(Stage).index)


def _needs_check(heat: HeatSnapshot, lane: int) -> bool:
    conduct = heat.conduct(lane)
    return not (conduct.checked or conduct.did_not_start)


def _again(signatures: list[HeatSigned], appeals: tuple[AppealDecided, ...]) -> bool:
    if len(signatures) < 2:
        return False
    first, last = signatures[0].order, signatures[-1].order
    return any(appeal.upheld and first < appeal.order < last for appeal in appeals)


def _stage(*, over: bool, unchecked: bool, signed: bool, again: bool) -> Stage:
    if not over or unchecked:
        return Stage.LIVE
    if not signed:
        return Stage.PROVISIONAL
    return Stage.AMENDED if again else Stage.OFFICIAL
