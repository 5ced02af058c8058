"""Cues of work that is one count from start to end: who is first through a round, who goes unbroken."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.observation import Observation
from tallywire.core.fold.heat import LaneState
from tallywire.core.gaps.pace import LegSplit, lane_splits, unbroken
from tallywire.core.model.workout import Leg, Mark

Through = list[tuple[LaneState, LegSplit]]
"""The lanes that have completed a station of a round, with the way each did it."""


def round_cues(observation: Observation, lanes: list[LaneState]) -> Iterator[Cue]:
    """Give a cue for the first lane through each round but the last; none where two lanes got there together."""
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


def unbroken_cues(observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
    """Give a cue for a long station done in one set, where most others who completed it had to break it up."""
    for mark, through in _lately_through(observation, lanes).items():
        leg = _leg(observation, mark)
        whole = [(lane, split) for lane, split in through if unbroken(split, leg)]
        if leg.station.amount >= rules.unbroken_least and len(through) >= 3 and 2 * len(whole) <= len(through):
            for lane, split in whole:
                yield _unbroken(observation, lane, split, leg, through=len(through), whole=len(whole))


def _lately_through(observation: Observation, lanes: list[LaneState]) -> dict[Mark, Through]:
    """The stations that a lane has completed lately, each with all lanes that have completed it."""
    state, found = observation.state, dict[Mark, Through]()
    oldest_ms = state.clock_ms - Kind.UNBROKEN.ttl_ms
    recent = {mark for lane in lanes for mark, at_ms in lane.splits.items() if at_ms > oldest_ms}
    for lane in lanes if recent else ():
        for split in lane_splits(state.plan, lane, start_ms=0 if state.started is None else state.started.at_ms):
            mark = Mark(round=split.round, station=split.number)
            if split.end_ms is not None and mark in recent:
                found.setdefault(mark, []).append((lane, split))
    return found


def _leg(observation: Observation, mark: Mark) -> Leg:
    plan = observation.state.plan
    wanted = ((mark.round - 1) % plan.rounds_a_lap + 1, mark.station)
    return next(each for each in plan.legs if (each.round, each.number) == wanted)


def _unbroken(  # noqa: PLR0913
    observation: Observation, lane: LaneState, split: LegSplit, leg: Leg, *, through: int, whole: int
) -> Cue:
    return observation.cue(
        Kind.UNBROKEN,
        "unbroken",
        f"{lane.entry.id}/{split.round}/{split.number}",
        (lane,),
        at_ms=split.end_ms,
        behind=lane.place - 1,
        name=lane.entry.short,
        amount=leg.station.amount,
        movement=leg.station.movement,
        round=split.round,
        through=through,
        whole=whole,
    )
