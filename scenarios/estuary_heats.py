"""One recorded heat of every format: the Estuary Trials.

Each lane works at a pace of its own with a little spread, from a fixed seed. Plainer than `pace_model`: these heats
show what a format does, not how bodies tire.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from random import Random

from floor_crew import Draft, numbered
from tallywire.core.facts import (
    AttemptDeclared,
    AttemptFailed,
    AttemptMade,
    BlockCompleted,
    Exchanged,
    Fact,
    HeatEnded,
    HeatStarted,
    NoRepCalled,
    RepCounted,
)
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.model.workout import Credit, Plan, Workout
from tallywire.formats.intervals.rules import rules_of

SEED = 20_270_613
STARTED_UNIX_MS = 1_812_880_800_000
PACES = {1: 0.85, 2: 1.0, 3: 1.15, 4: 1.3}
"""How long a unit takes on each lane, against the usual."""
MOST_UNITS = 400
_Lane = Callable[[Workout, int, Random], Iterator[Draft]]


def record_example(competition: Competition, heat: Heat) -> list[Fact]:
    """Give the facts of one example heat in the order in which facts are read."""
    workout = competition.event_of(heat).workout
    work = LANES[heat.id]
    facts: list[Fact] = []
    for lane in heat.lanes:
        dice = Random(SEED * 100 + lane)
        drafts = [draft for draft in work(workout, lane, dice) if draft[1] <= workout.time_cap_ms]
        facts += numbered(heat.id, f"lane-{lane}-{heat.id}", drafts)
    start: Draft = (HeatStarted, 0, {"unix_ms": STARTED_UNIX_MS})
    end: Draft = (HeatEnded, workout.time_cap_ms + 1_500, {})
    facts += numbered(heat.id, f"table-{heat.id}", [start, end])
    return sorted(facts, key=lambda fact: fact.order)


def _units(workout: Workout, lane: int, dice: Random, *, begin_ms: int = 0) -> Iterator[tuple[int, int]]:
    """Give (at_ms, units done) one unit after the other, at the pace of the lane and the station."""
    plan = Plan(workout, laps=None)
    at_ms = float(begin_ms + 2_000)
    for done in range(1, MOST_UNITS):
        station = plan.position(done - 1).station
        usual_ms = min(3_000.0, station.expected_ms / station.amount)
        at_ms += usual_ms * PACES[lane] * (0.85 + 0.3 * dice.random())
        yield round(at_ms), done


def _counted(workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    plan = Plan(workout, laps=1)
    for at_ms, done in _units(workout, lane, dice):
        if done > plan.lap_done:
            return
        station = plan.position(done - 1).station
        if station.credit is Credit.BLOCK:
            if plan.position(done).station is not station or done == plan.lap_done:
                yield BlockCompleted, at_ms, {"lane": lane}
            continue
        if dice.random() < 0.03:
            yield NoRepCalled, at_ms - 400, {"lane": lane, "reason": "not locked out"}
        yield RepCounted, at_ms, {"lane": lane}


def _lifts(_workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    load_milli = {1: 92_000, 2: 95_000, 3: 88_000, 4: 92_000}[lane]
    for attempt in range(3):
        at_ms = 40_000 + attempt * 160_000 + lane * 9_000
        yield AttemptDeclared, at_ms, {"lane": lane, "load_milli": load_milli}
        good = attempt == 0 or (attempt == 1 and lane != 2)
        kind = AttemptMade if good else AttemptFailed
        yield kind, at_ms + 25_000 + int(dice.random() * 4_000), {"lane": lane}
        load_milli += 4_000 if good else 0


def _ladder(workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    for bar in range(len(workout.rounds[0])):
        for lift in range(2):
            late = bar >= 5 - lane and lift == 1
            at_ms = bar * 60_000 + 12_000 + lift * 15_000 + int(dice.random() * 6_000)
            yield (AttemptFailed if late else AttemptMade), at_ms, {"lane": lane}
        if bar >= 5 - lane:
            return


def _pieces(workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    rules = rules_of(workout)
    amount = Plan(workout, laps=None).lap_done if rules.timed else MOST_UNITS
    for piece in range(rules.pieces):
        begin_ms = piece * (rules.work_ms + rules.rest_ms)
        for at_ms, done in _units(workout, lane, dice, begin_ms=begin_ms):
            if done > amount or at_ms > begin_ms + rules.work_ms:
                break
            yield RepCounted, at_ms, {"lane": lane}


def _relay(workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    """The turn changes with every round."""
    plan = Plan(workout, laps=None)
    for at_ms, done in _units(workout, lane, dice):
        yield RepCounted, at_ms, {"lane": lane}
        if done % plan.lap_done == 0:
            yield Exchanged, at_ms + 900, {"lane": lane, "member": 1 + done // plan.lap_done % 2}


def _synchro(workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    """Two judges: the second partner is a moment later."""
    for kind, at_ms, fields in _counted(workout, lane, dice):
        if kind is RepCounted:
            yield kind, at_ms, {**fields, "member": 1}
            yield kind, at_ms + int(dice.random() * 800), {**fields, "member": 2}


def _shared(workout: Workout, lane: int, dice: Random) -> Iterator[Draft]:
    """They change every eight units."""
    for turn, (kind, at_ms, fields) in enumerate(_counted(workout, lane, dice)):
        yield kind, at_ms, {**fields, "member": 1 + turn // 8 % 2} if kind is RepCounted else fields


LANES: Mapping[str, _Lane] = {
    "chipper": _counted,
    "sluice": _counted,
    "anchor": _lifts,
    "lock-ladder": _ladder,
    "tides": _pieces,
    "sprints": _pieces,
    "relay": _relay,
    "synchro": _synchro,
    "shared": _shared,
}
"""How each example heat goes, by its id in estuary.toml."""
