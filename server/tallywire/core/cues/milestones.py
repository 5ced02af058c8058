"""Cues that stand in the state of the heat itself: finishes, first through a round, unbroken, withdrawals, time up.

They hold no memory: the same state gives the same cues, so a correction takes back what it makes untrue. What lifts,
ladders and intervals have of their own stands in modules beside this one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby

from tallywire.core.cues.bars import ladder_cues
from tallywire.core.cues.cue import TTL_MS, Cue, CueRules, Kind, Value
from tallywire.core.cues.lifts import lift_cues
from tallywire.core.cues.observation import Observation
from tallywire.core.cues.pieces import counting, decided_ms, piece_cues
from tallywire.core.cues.wins import timed
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status
from tallywire.core.gaps.pace import LegSplit, leg_splits, unbroken
from tallywire.core.model.workout import Mark


def milestones(observation: Observation, rules: CueRules) -> list[Cue]:
    """Give all of them, however long ago they happened."""
    found: list[Cue] = []
    for lanes in observation.ranked().values():
        found += _withdrawals(observation, lanes)
        found += _of_format(observation, rules, lanes)
    return [replace(cue, lasting=True) for cue in [*found, *_time_up(observation)]]


def _of_format(observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
    """What the format of the work gives to tell of one division."""
    workout = observation.state.event.workout
    if workout.lifting is not None:
        yield from lift_cues(observation, rules, lanes)
    elif workout.ladder is not None:
        yield from ladder_cues(observation, rules, lanes)
    elif workout.intervals is not None:
        yield from piece_cues(observation, rules, lanes)
        yield from _finishes(observation, rules, lanes)
    else:
        yield from _finishes(observation, rules, lanes)
        yield from timed(observation, lanes)
        if len(lanes) > 1:
            yield from _rounds(observation, lanes)
            yield from _unbroken(observation, rules, lanes)


def _finishes(observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
    """A finish is told once the judge's call has had time to come; who ties is told in one line."""
    done = [lane for lane in lanes if lane.status is Status.FINISHED]
    ahead: LaneState | None = None
    for place, group in groupby(done, key=lambda lane: lane.place):
        level = tuple(group)
        at_ms = decided_ms(observation, lanes, level[0])
        if observation.clock_ms >= at_ms + rules.finish_settles_ms:
            yield _finish(observation, level, place, at_ms, ahead)
        ahead = level[0]


def _finish(
    observation: Observation, level: tuple[LaneState, ...], place: int, at_ms: int, ahead: LaneState | None
) -> Cue:
    time_ms = level[0].finish_ms or 0
    key = f"{level[0].entry.division}/{'+'.join(sorted(lane.entry.id for lane in level))}"
    behind_ms = 0 if ahead is None else time_ms - (ahead.finish_ms or 0)
    names, said = {"name": level[0].entry.short}, level
    if len(level) > 1:
        template, names["other"] = "finish_level", level[1].entry.short
    elif ahead is None:
        intervals = observation.state.event.workout.intervals
        template = "finish_first" if intervals is None else "finish_first_pieces"
        names |= {} if intervals is None else {"counts": counting(intervals)}
    elif ahead.conduct.held:
        template = "finish_plain"
    else:
        template, said = "finish_close" if behind_ms < 1_000 else "finish", (*level, ahead)
        names["ahead"] = ahead.entry.short
    numbers = {"place": place, "time_ms": time_ms, "behind_ms": behind_ms}
    return observation.cue(Kind.FINISH, template, key, said, at_ms=at_ms, behind=place - 1, **names, **numbers)


def _withdrawals(observation: Observation, lanes: list[LaneState]) -> Iterator[Cue]:
    for lane in lanes:
        at_ms = lane.conduct.withdrawn_ms
        if lane.status is Status.WITHDRAWN and at_ms is not None:
            rounds: dict[str, Value] = {"round": lane.position.round, "reps": lane.outcome.scored_reps}
            numbers = rounds if observation.is_counted else {}
            yield observation.cue(
                Kind.WITHDRAWAL,
                "withdrawal" if observation.is_counted else "withdrawal_plain",
                lane.entry.id,
                (lane,),
                at_ms=at_ms,
                behind=0,
                name=lane.entry.short,
                **numbers,
            )


def _rounds(observation: Observation, lanes: list[LaneState]) -> Iterator[Cue]:
    """The first lane through each round but the last; nothing where two got there together."""
    plan = observation.state.plan
    stations = {leg.round: leg.number for leg in plan.legs}
    last = None if plan.laps is None else plan.laps * plan.rounds_a_lap
    most = max(lane.position.round for lane in lanes)
    for number in range(1, most + 1):
        mark = Mark(round=number, station=stations[(number - 1) % plan.rounds_a_lap + 1])
        times = sorted((lane.splits[mark], lane.lane) for lane in lanes if mark in lane.splits)
        if not times or number == last or (len(times) > 1 and times[0][0] == times[1][0]):
            continue
        lane = observation.state.lanes[times[0][1]]
        yield observation.cue(
            Kind.ROUND_FIRST,
            "round_first",
            f"{lane.entry.division}/{number}",
            (lane,),
            at_ms=times[0][0],
            name=lane.entry.short,
            round=number,
            reps=plan.scored(plan.done_at(mark)),
            time_ms=times[0][0],
        )


def _unbroken(observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
    """A long station done in one set where, of those through it in that round, most had to break it."""
    state, by_leg = observation.state, dict[tuple[int, int], list[tuple[LaneState, LegSplit]]]()
    plan, begun = state.plan, 0 if state.started is None else state.started.at_ms
    oldest_ms = state.clock_ms - TTL_MS[Kind.UNBROKEN]
    recent = {mark for lane in lanes for mark, at_ms in lane.splits.items() if at_ms > oldest_ms}
    for lane in lanes if recent else ():
        for split in leg_splits(plan, lane.tally, start_ms=begun):
            if split.end_ms is not None and Mark(round=split.round, station=split.number) in recent:
                by_leg.setdefault((split.round, split.number), []).append((lane, split))
    for (number, station), through in by_leg.items():
        leg = next(
            each for each in plan.legs if (each.round, each.number) == ((number - 1) % plan.rounds_a_lap + 1, station)
        )
        whole = [(lane, split) for lane, split in through if unbroken(split, leg)]
        if leg.station.amount < rules.unbroken_least or len(through) < 3 or 2 * len(whole) > len(through):
            continue
        for lane, split in whole:
            yield observation.cue(
                Kind.UNBROKEN,
                "unbroken",
                f"{lane.entry.id}/{number}/{station}",
                (lane,),
                at_ms=split.end_ms,
                behind=lane.place - 1,
                name=lane.entry.short,
                amount=leg.station.amount,
                movement=leg.station.movement,
                round=number,
                through=len(through),
                whole=len(whole),
            )


def _time_up(observation: Observation) -> list[Cue]:
    state = observation.state
    capped = [lane for lane in state.lanes.values() if lane.status is Status.CAPPED]
    cap_ms = state.event.workout.time_cap_ms
    if not capped or state.clock_ms < cap_ms:
        return []
    best = min(capped, key=lambda lane: (lane.outcome.reps_to_go or 0, lane.lane))
    return [
        observation.cue(
            Kind.TIME_UP,
            "time_up",
            state.heat.id,
            (best,),
            at_ms=cap_ms,
            name=best.entry.short,
            capped=len(capped),
            to_go=best.outcome.reps_to_go or 0,
        )
    ]
