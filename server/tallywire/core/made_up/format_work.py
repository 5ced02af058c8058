"""What a lane does in a made-up heat: the facet that a format fills unless its work is one count."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from tallywire.core.facts import BlockCompleted, Exchanged, Fact, Finished, NoRepCalled, RepCounted
from tallywire.core.formats.registry import format_of
from tallywire.core.made_up.pace_model import Athlete, Dice, Effort, UnitDone, perform
from tallywire.core.model.workout import Credit, Plan, Team, TeamForm, Workout

Draft = tuple[type[Fact], float, dict[str, Any]]
"""A fact before its sender has numbered it: kind, time on the heat clock in ms, the other fields but the lane."""
PARTNER_MS = 800
"""So much later at most the second of a team that works in step is seen."""
TURN_UNITS = (5, 13)
"""So many units one of a team does before another takes over, where they share the work as they like."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bout:
    """One lane's heat: the workout, who works there, how movements go for a fresh body, and chance."""

    workout: Workout
    athlete: Athlete
    efforts: Mapping[str, Effort]
    dice: Dice

    @property
    def plan(self) -> Plan:
        """The arithmetic of the workout."""
        return format_of(self.workout).counting.plan(self.workout)

    def between(self, low: float, high: float) -> float:
        """Give a number between two."""
        return low + (high - low) * self.dice.random()


class FormatWork:
    """What is done on a lane, as a judge who misses nothing would tap it, in the order of time."""

    def drafts(self, bout: Bout) -> Iterator[Draft]:
        """Give one lane's taps, up to the cap."""
        until_ms, last_ms = bout.workout.time_cap_ms, 0.0
        for moment in perform(bout.workout, bout.efforts, bout.athlete, bout.dice):
            if moment.at_ms > until_ms:
                return
            yield from of_team(bout, tap(bout.workout, moment), moment)
            last_ms = moment.at_ms
        called_ms = last_ms + bout.between(150, 350)
        if called_ms <= until_ms:
            yield Finished, called_ms, {}


def tap(workout: Workout, moment: UnitDone) -> Iterator[Draft]:
    """Give the tap that a unit calls for, if any: a block is tapped when it is complete."""
    station = workout.rounds[(moment.at.round - 1) % len(workout.rounds)][moment.at.station - 1]
    is_block = station.credit is Credit.BLOCK
    if moment.no_rep:
        yield NoRepCalled, moment.at_ms, {"reason": moment.no_rep}
    elif is_block and moment.at.unit == station.amount:
        yield BlockCompleted, moment.at_ms, {}
    elif not is_block:
        yield RepCounted, moment.at_ms, {}


def of_team(bout: Bout, taps: Iterator[Draft], moment: UnitDone) -> Iterator[Draft]:
    """Give taps as they are made for a team, by its form; those of one athlete are as they were."""
    team = bout.workout.team
    for kind, at_ms, fields in taps:
        if team is None or kind is not RepCounted:
            yield kind, at_ms, fields
        elif team.form is TeamForm.SYNCHRO:
            for member in range(1, team.members + 1):
                late_ms = bout.between(0, PARTNER_MS) if member > 1 else 0.0
                yield kind, at_ms + late_ms, {**fields, "member": member}
        elif team.form is TeamForm.SHARED:
            yield kind, at_ms, {**fields, "member": _whose_turn(team, moment)}
        else:
            yield kind, at_ms, fields
    if team is not None and team.form is TeamForm.RELAY and _ends_round(bout.workout, moment):
        yield Exchanged, moment.at_ms + bout.between(500, 1500), {"member": 1 + moment.at.round % team.members}


def _whose_turn(team: Team, moment: UnitDone) -> int:
    low, high = TURN_UNITS
    turn = (moment.at.unit - 1) // (low + moment.at.station % (high - low))
    return 1 + (moment.at.round + moment.at.station + turn) % team.members


def _ends_round(workout: Workout, moment: UnitDone) -> bool:
    stations = workout.rounds[(moment.at.round - 1) % len(workout.rounds)]
    at = moment.at
    return not moment.no_rep and at.station == len(stations) and at.unit == stations[-1].amount
