"""The crew of a heat: judges who tap what they see, slips included, and the table that puts them right.

Turns the moments of `core/made_up/pace_model` into facts, in the order of the heat clock. Pure, like the model.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import takewhile
from random import Random
from typing import Any

from tallywire.core.facts import (
    BlockCompleted,
    CountCorrected,
    Fact,
    FactVoided,
    Finished,
    HeatEnded,
    HeatStarted,
    NoRepCalled,
    RepCounted,
    Withdrawn,
)
from tallywire.core.made_up.pace_model import Athlete, Effort, Point, UnitDone, perform
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Credit, Plan, Workout

DOUBLE_TOUCH_MS = 100
"""A second touch of the same tap comes this much later: under the 150 ms at which a pad's touch guard stands."""

LATE_TAP_MS = 900
"""A judge still taps what was done this long after the time was up; it does not count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubleTouch:
    """The tap of `at` was made twice; the table voided the second after `noticed_ms`."""

    at: Point
    noticed_ms: int = 5_000
    reason: str = "double touch"


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedTap:
    """`at` was done, not tapped; the table corrected the count after `noticed_ms`, giving the number as of then."""

    at: Point
    reason: str
    noticed_ms: int = 5_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """`at` was the last unit done; the table wrote the withdrawal down after `after_ms`."""

    at: Point
    reason: str
    after_ms: int = 30_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneScript:
    """What goes on in one lane.

    `home_ms` is when the judge calls the finish (past the cap: when it would have come); None leaves the time to the
    athlete's skill. `tap_every` gives, by movement, how many units one tap stands for where that is not one; a block
    without it is tapped only when it is complete.
    """

    athlete: Athlete
    home_ms: int | None = None
    tap_every: Mapping[str, int] = field(default_factory=dict)
    double_touches: tuple[DoubleTouch, ...] = ()
    missed_taps: tuple[MissedTap, ...] = ()
    withdrawal: Withdrawal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatScript:
    """A heat to record: who is on which lane, how movements go, and when the clock was started (Unix, ms).

    `call_ms` bounds how long after the last repetition a judge calls the finish, which is the official time. The heat
    ends when the table says so, `ended_after_ms` after the cap.
    """

    heat: str
    seed: int
    started_unix_ms: int
    efforts: Mapping[str, Effort]
    lanes: Mapping[int, LaneScript]
    call_ms: tuple[int, int] = (150, 350)
    ended_after_ms: int = 2_400


Draft = tuple[type[Fact], int, dict[str, Any]]
"""A fact before its sender has numbered it: kind, at_ms, the other fields."""


def record(competition: Competition, script: HeatScript) -> list[Fact]:
    """Give the facts of a heat in the order in which facts are read: heat clock, sender, sequence."""
    workout = competition.event_of(competition.heats[script.heat]).workout
    table: list[Draft] = [
        (HeatStarted, 0, {"unix_ms": script.started_unix_ms}),
        (HeatEnded, workout.time_cap_ms + script.ended_after_ms, {}),
    ]
    facts: list[Fact] = []
    for lane, in_lane in script.lanes.items():
        dice = Random(script.seed * 100 + lane)
        seen = _seen(workout, script, in_lane, dice)
        taps = numbered(script.heat, f"lane-{lane}-{_letters(dice)}", _taps(workout, lane, in_lane, seen))
        facts += taps
        table += _table(workout, lane, in_lane, seen, taps)
    facts += numbered(script.heat, f"table-{_letters(Random(script.seed))}", table)
    return sorted(facts, key=lambda fact: fact.order)


def _seen(workout: Workout, script: HeatScript, in_lane: LaneScript, dice: Random) -> list[UnitDone]:
    """Give what the judge of a lane sees until the time is up or the athlete stops."""
    until_ms = workout.time_cap_ms + LATE_TAP_MS
    moments = perform(workout, script.efforts, in_lane.athlete, dice)
    if in_lane.home_ms is not None:
        low, high = script.call_ms
        moments = iter(brought_home(list(moments), in_lane.home_ms - low - (high - low) * dice.random()))
    seen = list(takewhile(lambda moment: moment.at_ms <= until_ms, moments))
    if in_lane.withdrawal is None:
        return seen
    return seen[: 1 + _index(seen, in_lane.withdrawal.at)]


def brought_home(moments: Sequence[UnitDone], home_ms: float) -> list[UnitDone]:
    """Run the same race faster or slower, so that its last moment falls on `home_ms`: skill chosen by its result."""
    factor = home_ms / moments[-1].at_ms
    return [replace(moment, at_ms=moment.at_ms * factor) for moment in moments]


def _index(seen: Sequence[UnitDone], at: Point) -> int:
    return next(index for index, moment in enumerate(seen) if moment.at == at and not moment.no_rep)


def _taps(workout: Workout, lane: int, in_lane: LaneScript, seen: Sequence[UnitDone]) -> list[Draft]:
    """Give what the judge of a lane taps."""
    missed = {slip.at for slip in in_lane.missed_taps}
    doubled = {slip.at for slip in in_lane.double_touches}
    drafts: list[Draft] = []
    for moment in seen:
        at_ms = round(moment.at_ms)
        if moment.no_rep:
            drafts.append((NoRepCalled, at_ms, {"lane": lane, "reason": moment.no_rep}))
        elif moment.at not in missed:
            tap = _tap(workout, in_lane, moment.at)
            drafts += [(kind, at_ms, {"lane": lane, **values}) for kind, values in tap]
        if moment.at in doubled and not moment.no_rep:
            drafts.append((RepCounted, at_ms + DOUBLE_TOUCH_MS, {"lane": lane}))
    if in_lane.home_ms is not None and in_lane.home_ms <= workout.time_cap_ms and in_lane.withdrawal is None:
        drafts.append((Finished, in_lane.home_ms, {"lane": lane}))
    return drafts


def _tap(workout: Workout, in_lane: LaneScript, at: Point) -> Iterator[tuple[type[Fact], dict[str, Any]]]:
    """Give the tap a unit calls for, if any."""
    station = workout.rounds[(at.round - 1) % len(workout.rounds)][at.station - 1]
    is_block = station.credit is Credit.BLOCK
    every = in_lane.tap_every.get(station.movement, station.amount if is_block else 1)
    if is_block and at.unit == station.amount:
        yield BlockCompleted, {}
    elif at.unit % every == 0:
        yield RepCounted, {} if every == 1 else {"n": every}


def _table(
    workout: Workout, lane: int, in_lane: LaneScript, seen: Sequence[UnitDone], taps: Sequence[Fact]
) -> Iterator[Draft]:
    """Give what the table does about a lane."""
    for double in in_lane.double_touches:
        again_ms = round(seen[_index(seen, double.at)].at_ms) + DOUBLE_TOUCH_MS
        tap = next(fact for fact in taps if fact.at_ms == again_ms)
        yield FactVoided, again_ms + double.noticed_ms, {"voids": tap.id, "lane": lane, "reason": double.reason}
    for missed in in_lane.missed_taps:
        at_ms = round(seen[_index(seen, missed.at)].at_ms) + missed.noticed_ms
        number = _cumulative(workout, seen, at_ms)
        yield CountCorrected, at_ms, {"lane": lane, "scored_reps": number, "reason": missed.reason}
    if in_lane.withdrawal is not None:
        at_ms = round(seen[-1].at_ms) + in_lane.withdrawal.after_ms
        yield Withdrawn, at_ms, {"lane": lane, "reason": in_lane.withdrawal.reason}


def _cumulative(workout: Workout, seen: Iterable[UnitDone], at_ms: int) -> int:
    """Give the scored reps done up to `at_ms`."""
    units = sum(1 for moment in seen if not moment.no_rep and moment.at_ms <= at_ms)
    return Plan(workout, laps=None).scored(units)


def numbered(heat: str, sender: str, drafts: Iterable[Draft]) -> list[Fact]:
    """Give a sender's drafts, by time, the sender's running numbers and ids."""
    return [
        kind(id=f"{sender}.{number}", heat=heat, at_ms=at_ms, sender=sender, sequence=number, **values)
        for number, (kind, at_ms, values) in enumerate(sorted(drafts, key=lambda draft: draft[1]), start=1)
    ]


def _letters(dice: Random) -> str:
    """Give the random letters by which one pad's name differs from another's on the same lane."""
    return "".join("bcdfghjkmnpqrstvwxz"[int(dice.random() * 19)] for _ in range(5))
