"""A made-up heat: its field is drawn, works, is judged with slips, and its pads send through a network that fails.

Pure: the same competition, world and dice give the same facts, in the order in which they reach the server.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from tallywire.core.facts import Fact, FactVoided, HeatCalled, HeatEnded, HeatStarted, RepCounted, Withdrawn
from tallywire.core.formats.registry import format_of
from tallywire.core.made_up.format_work import Bout, Draft, FormatWork
from tallywire.core.made_up.pace_model import Athlete, Dice, Effort, Point, Stall
from tallywire.core.made_up.worlds import World
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.model.workout import Credit, Station, Workout

CALLED_MS = 45_000
"""So long before its start a heat is called to the floor."""
QUICK_MS = 5_000
"""A unit that takes less than this is done in sets; longer ones, one at a time."""
UNBROKEN = (8, 22)
"""The longest set of somebody fresh."""
STOP_MS = (15_000, 60_000)
OUTAGE_MS = (8_000, 60_000)
CAUGHT_UP_MS = (1_500, 6_000)
"""A judge who missed a tap, or made one twice, puts it right after so long."""
DOUBLE_MS = (60, 140)
THUMB_MS = 160
"""No two taps come nearer than this, but one that is made twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeUp:
    """What a heat is made from: the competition, the world, and dice for each name (of a lane, of the field)."""

    competition: Competition
    world: World
    dice_of: Callable[[str], Dice]


def made_up_heat(made: MadeUp, heat: Heat, *, start_unix_ms: int) -> list[Fact]:
    """Give the facts of a heat whose clock starts at a wall time, in the order in which they arrive."""
    workout = made.competition.event_of(heat).workout
    arrived = [each for lane in heat.lanes for each in _lane(made, heat, lane)]
    end_ms = workout.time_cap_ms + 1_500
    table: list[tuple[float, Draft]] = [
        (-CALLED_MS, (HeatCalled, 0.0, {"unix_ms": start_unix_ms - CALLED_MS})),
        (0.0, (HeatStarted, 0.0, {"unix_ms": start_unix_ms})),
        (end_ms, (HeatEnded, end_ms, {})),
    ]
    arrived += _sent(heat.id, f"table-{heat.id}", table)
    return [fact for _, fact in sorted(arrived, key=lambda each: each[0])]


def true_work(made: MadeUp, heat: Heat, lane: int) -> list[Draft]:
    """Give what is done on a lane of such a heat, as a judge who misses nothing would tap it."""
    return _work(made, heat, made.dice_of(f"{heat.id}/{lane}"))


def _work(made: MadeUp, heat: Heat, dice: Dice) -> list[Draft]:
    workout, world = made.competition.event_of(heat).workout, made.world
    level = _about(made.dice_of(f"{heat.id}/field"), 1.0, world.level)
    athlete = _athlete(workout, world, dice)
    stations = {station.movement: station for each in workout.rounds for station in each}
    efforts = {name: _effort(station, world, level, dice) for name, station in stations.items()}
    bout = Bout(workout=workout, athlete=athlete, efforts=efforts, dice=dice)
    return _left(list(format_of(workout).facet(FormatWork).drafts(bout)), world, dice)


def _lane(made: MadeUp, heat: Heat, lane: int) -> list[tuple[float, Fact]]:
    dice, world = made.dice_of(f"{heat.id}/{lane}"), made.world
    until_ms = made.competition.event_of(heat).workout.time_cap_ms
    work = _work(made, heat, dice)
    drafts = sorted(_judged(work, world, dice), key=lambda draft: draft[1])
    kept = [(kind, at_ms, {**fields, "lane": lane}) for kind, at_ms, fields in drafts if at_ms <= until_ms]
    floor = f"-{heat.floor}" if heat.floor else ""
    return _sent(heat.id, f"lane-{lane}{floor}-{heat.id}", _through(kept, world, dice))


def _athlete(workout: Workout, world: World, dice: Dice) -> Athlete:
    low, high = world.fade
    stalls: tuple[Stall, ...] = ()
    if dice.random() < world.breakdown:
        number = len(workout.rounds) // 2 + 1
        station = 1 + int(dice.random() * len(workout.rounds[number - 1]))
        unit = 1 + int(dice.random() * workout.rounds[number - 1][station - 1].amount)
        stalls = (Stall(at=Point(round=number, station=station, unit=unit), ms=_between(dice, STOP_MS)),)
    skill = _about(dice, 1.0, world.skill)
    return Athlete(skill=skill, fade=low + (high - low) * dice.random(), stalls=stalls, mood=world.mood)


def _effort(station: Station, world: World, level: float, dice: Dice) -> Effort:
    """How a movement goes: about as the organiser expects, by how much off the field and this athlete are."""
    unit_ms = station.expected_ms / station.amount * level * _about(dice, 1.0, world.talent)
    in_sets = station.amount > 1 and unit_ms < QUICK_MS
    # A metre or a calorie is a machine's; in a block a slip costs time, and nobody calls it.
    judged = station.unit == "reps" and station.credit is Credit.UNIT
    return Effort(
        unit_ms=unit_ms,
        jitter=world.jitter,
        unbroken=round(_between(dice, UNBROKEN)) if in_sets else None,
        rest_ms=1.5 * unit_ms,
        no_rep_chance=world.no_rep if judged else 0.0,
    )


def _left(work: list[Draft], world: World, dice: Dice) -> list[Draft]:
    """Let somebody stop in the middle, once in a while; the judge says so."""
    if dice.random() >= world.leaves or not work:
        return work
    done = work[: 1 + int(dice.random() * len(work))]
    return [*done, (Withdrawn, done[-1][1] + _between(dice, (10_000, 40_000)), {"reason": "stopped"})]


def _judged(work: Iterable[Draft], world: World, dice: Dice) -> Iterator[Draft]:
    """Give what the judge taps: a little late, sometimes much later, sometimes twice and taken back."""
    last_ms = 0.0
    for kind, at_ms, fields in work:
        # A judge who is late goes on in order, as quickly as a thumb can.
        tapped_ms = last_ms = max(at_ms + _between(dice, world.late_ms), last_ms + THUMB_MS)
        if kind is not RepCounted:
            yield kind, tapped_ms, fields
            continue
        chance = dice.random()
        last_ms = tapped_ms = tapped_ms + (_between(dice, CAUGHT_UP_MS) if chance < world.missed else 0.0)
        yield kind, tapped_ms, fields
        if world.missed <= chance < world.missed + world.double:
            again_ms = tapped_ms + _between(dice, DOUBLE_MS)
            yield kind, again_ms, {**fields, "_twice": True}


def _through(taps: list[Draft], world: World, dice: Dice) -> list[tuple[float, Draft]]:
    """Give each tap with when it reaches the server: those of an outage all at its end."""
    begin_ms, end_ms = 0.0, 0.0
    if taps and dice.random() < world.outage:
        begin_ms = dice.random() * taps[-1][1]
        end_ms = begin_ms + _between(dice, OUTAGE_MS)
    return [(end_ms if begin_ms <= tap[1] < end_ms else tap[1], tap) for tap in taps]


def _sent(heat: str, sender: str, drafts: Iterable[tuple[float, Draft]]) -> list[tuple[float, Fact]]:
    """Give a sender's drafts their numbers and ids; what was tapped twice is voided in the next number."""
    found: list[tuple[float, Fact]] = []
    for arrives_ms, (kind, at_ms, fields) in drafts:
        twice = fields.pop("_twice", False)
        stamp: dict[str, Any] = {"heat": heat, "at_ms": round(at_ms), "sender": sender}
        found.append((arrives_ms, _numbered(kind, len(found) + 1, stamp | fields)))
        if twice:
            undo = {"voids": found[-1][1].id, "lane": fields["lane"], "reason": "double touch"}
            found.append((arrives_ms, _numbered(FactVoided, len(found) + 1, stamp | undo)))
    return found


def _numbered(kind: type[Fact], number: int, fields: dict[str, Any]) -> Fact:
    return kind(id=f"{fields['sender']}.{number}", sequence=number, **fields)


def _between(dice: Dice, bounds: tuple[float, float]) -> float:
    return bounds[0] + (bounds[1] - bounds[0]) * dice.random()


def _about(dice: Dice, middle: float, spread: float) -> float:
    """Scatter by up to `spread` either way, near the middle more often than at the ends."""
    return middle * (1 + spread * (dice.random() + dice.random() - 1))
