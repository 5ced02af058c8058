"""Whether lanes may count in a heat: they may from its call or start until it is signed."""

from __future__ import annotations

from collections.abc import Iterable

from tallywire.core.facts import Fact, HeatCalled, HeatRecalled, HeatSigned, HeatStarted


def closed_because(heat_facts: Iterable[Fact]) -> str | None:
    """Say why no lane may count, judging by the facts about the heat itself; None when lanes may count."""
    kinds = {type(fact) for fact in heat_facts}
    if not kinds & {HeatCalled, HeatStarted, HeatRecalled}:
        return "not called to the floor: the table calls it"
    return "signed: tell the table" if HeatSigned in kinds else None
