"""Marks and plain totals: the cumulative numbers a crew steers by, and the work done so far in units and kilograms."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from tallywire.core.model.loads import KG_A_LB
from tallywire.core.model.workout import Credit, Plan

_LOAD = re.compile(r"(?:(\d+)\s*[x×]\s*)?(\d+(?:[.,]\d+)?)\s*(kg|lbs?)", re.IGNORECASE | re.ASCII)


class EndOf(StrEnum):
    """What ends at a mark."""

    STATION = "station"
    ROUND = "round"
    WORK = "work"


@dataclass(frozen=True, slots=True, kw_only=True)
class Milestone:
    """A cumulative number (`scored`) and what it means: the end of a station, of a round, or of the whole work."""

    scored: int
    done: int
    round: int
    number: int
    movement: str
    ends: EndOf


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """The next mark and the end of the round, with scored reps to each. `to_go` is None for work without an end."""

    next: Milestone
    reps_to_next: int
    round_end: Milestone
    reps_to_round_end: int
    to_go: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """Work done at one movement. `kg` is units times load, None where no load is given or it cannot be read."""

    movement: str
    unit: str
    amount: int
    kg: float | None


def milestones(plan: Plan, *, laps: int = 1) -> list[Milestone]:
    """Give every station end of the first `laps` laps, in order."""
    last_of_round = {leg.round: leg.number for leg in plan.legs}
    found = []
    for lap in range(laps if plan.laps is None else plan.laps):
        for leg in plan.legs:
            done = lap * plan.lap_done + leg.done_after
            whole_round = leg.number == last_of_round[leg.round]
            ends = EndOf.WORK if done == plan.total_done else EndOf.ROUND if whole_round else EndOf.STATION
            found.append(
                Milestone(
                    scored=lap * plan.lap_scored + leg.scored_after,
                    done=done,
                    round=lap * plan.rounds_a_lap + leg.round,
                    number=leg.number,
                    movement=leg.station.movement,
                    ends=ends,
                )
            )
    return found


def ahead(plan: Plan, done: int) -> Ahead | None:
    """Give the marks ahead of a count; None when the work is complete."""
    coming = [each for each in milestones(plan, laps=done // plan.lap_done + 1) if each.done > done]
    if not coming:
        return None
    round_end = next(each for each in coming if each.ends is not EndOf.STATION)
    scored = plan.scored(done)
    return Ahead(
        next=coming[0],
        reps_to_next=coming[0].scored - scored,
        round_end=round_end,
        reps_to_round_end=round_end.scored - scored,
        to_go=None if plan.total_scored is None else plan.total_scored - scored,
    )


def load_kg(text: str) -> float | None:
    """Read a load as printed ("35 lb", "2 x 22.5 kg") and give kilograms in all; None when it is not a mass."""
    match = _LOAD.fullmatch(text.strip())
    if match is None:
        return None
    count, mass, unit = match.groups()
    kg = float(mass.replace(",", ".")) * (1.0 if unit.lower() == "kg" else float(KG_A_LB))
    return int(count or 1) * kg


def totals(plan: Plan, done: int, division: str) -> list[Total]:
    """Give the work in `done` units per movement and unit, in the order they first come up.

    Inside a block only whole blocks count. Kilograms are units times the division's load; movements carried over a
    distance or held for a time move nothing in this sense and have none.
    """
    amounts: dict[tuple[str, str], int] = {}
    masses: dict[tuple[str, str], list[float | None]] = {}
    for movement, unit, units, load in _work(plan, done, division):
        key = (movement, unit)
        amounts[key] = amounts.get(key, 0) + units
        masses.setdefault(key, []).append(None if load is None or unit != "reps" else units * load)
    return [
        Total(movement=movement, unit=unit, amount=amounts[movement, unit], kg=_sum(masses[movement, unit]))
        for movement, unit in amounts
    ]


def _work(plan: Plan, done: int, division: str) -> Iterable[tuple[str, str, int, float | None]]:
    laps, within = divmod(done, plan.lap_done)
    for leg in plan.legs:
        station = leg.station
        into = min(station.amount, max(0, within - leg.done_before))
        if station.credit is Credit.BLOCK and into < station.amount:
            into = 0
        units = laps * station.amount + into
        if units:
            yield station.movement, station.unit, units, load_kg(station.loads.get(division, ""))


def _sum(masses: list[float | None]) -> float | None:
    known = [mass for mass in masses if mass is not None]
    return sum(known) if len(known) == len(masses) else None
