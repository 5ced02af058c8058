"""What the call says of a lane's own work: gaps both ways, the marks ahead, plain totals, pace, rests and fade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from statistics import median

from tallywire.core.cues.chase import chase, expected_finish_ms, neighbours
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.registry import format_of
from tallywire.core.gaps.gaps import heat_gaps
from tallywire.core.gaps.pace import (
    LegSplit,
    fades,
    leg_splits,
    rate_now,
    round_splits,
    unbroken,
    work_sets,
)
from tallywire.core.model.workout import Leg, Plan
from tallywire.core.views.format_views import FormatViews
from tallywire.core.views.gaps import behind_data
from tallywire.core.views.heat import Frame
from tallywire.core.views.lane_work import mark_data, misses_data, totals_data


def on_air(state: HeatState) -> HeatState:
    """Give the heat without its lanes on medical hold: nothing is measured against them. Places stay as they are."""
    lanes = {number: lane for number, lane in state.lanes.items() if not lane.conduct.held}
    return replace(state, lanes=lanes, order=tuple(number for number in state.order if number in lanes))


def is_counted(state: HeatState) -> bool:
    """Tell whether the work is one count from start to end."""
    return format_of(state.event.workout).counting.one_count


def work_frames(state: HeatState) -> dict[int, Frame]:
    """Give the gaps, marks, totals and pace of every lane, by lane.

    Work that is not one count has only some of these.
    """
    if not is_counted(state):
        own = format_of(state.event.workout).facet(FormatViews)
        return {number: own.call(state, lane) for number, lane in state.lanes.items()}
    gaps = heat_gaps(state)
    start_ms = 0 if state.started is None else state.started.at_ms
    splits = {number: leg_splits(state.plan, lane.tally, start_ms=start_ms) for number, lane in state.lanes.items()}
    rounds = {number: round_splits(state.plan, each) for number, each in splits.items()}
    return {
        number: {
            "behind": behind_data(gaps[number]),
            **mark_data(state.plan, lane),
            "totals": totals_data(state.plan, lane, [lane.tally]),
            "pace": _pace(state, lane, splits[number], rounds) if lane.tally.done else {},
        }
        for number, lane in state.lanes.items()
    }


def chases(state: HeatState) -> list[Frame]:
    """Give every neighbour at work that will be level with the one ahead before that one is home, best place first."""
    pairs = neighbours(state) if is_counted(state) else []
    found = [(lane, other, chase(state, lane, other)) for lane, other in pairs]
    return [
        {
            "lane": lane.lane,
            "ahead": other.lane,
            "gap_ms": closing.gap_ms,
            "was_ms": closing.was_ms,
            "catch_ms": closing.catch_ms,
        }
        for lane, other, closing in found
        if closing is not None and state.clock_ms + closing.catch_ms < _home_ms(state, other)
    ]


def _home_ms(state: HeatState, lane: LaneState) -> int:
    cap_ms = state.event.workout.time_cap_ms
    return min(cap_ms, expected_finish_ms(state, lane) or cap_ms)


def _pace(state: HeatState, lane: LaneState, splits: list[LegSplit], rounds: Mapping[int, Mapping[int, int]]) -> Frame:
    own = rounds[lane.lane]
    rivals = [rounds[number] for number, other in state.lanes.items() if other.entry.division == lane.entry.division]
    data: Frame = {
        "rounds": {str(number): ms for number, ms in own.items()},
        **_stations(splits),
        **misses_data(lane),
        **_sets(state.plan, splits),
    }
    rate = rate_now(lane.tally, state.clock_ms) if lane.status is Status.WORKING else None
    if rate is not None:
        data["rate"] = round(rate, 1)
    slowing = fades(own, rivals)
    if slowing:
        data["fade"] = round(slowing[-1].own, 2)
        if slowing[-1].against_field is not None:
            data["fade_field"] = round(slowing[-1].against_field, 2)
    return data


def _stations(splits: list[LegSplit]) -> Frame:
    """Every complete station by round and number, each with its transition where facts show one."""
    stations: dict[str, Frame] = {}
    transitions: dict[str, Frame] = {}
    for split in splits:
        if split.split_ms is not None:
            stations.setdefault(str(split.round), {})[str(split.number)] = split.split_ms
        if split.transition_ms is not None:
            transitions.setdefault(str(split.round), {})[str(split.number)] = split.transition_ms
    return {"stations": stations, "transitions": transitions}


def _sets(plan: Plan, splits: list[LegSplit]) -> Frame:
    """Rests and unbroken stations over all stations; the usual transition where facts show one."""
    rests = [each.rest_ms for split in splits for each in work_sets(split) if each.rest_ms is not None]
    counted = _counted_one_by_one(plan, splits)
    data: Frame = {
        "rests": len(rests),
        "rest_ms": sum(rests),
        "unbroken": sum(unbroken(*pair) for pair in counted),
        "unbroken_of": len(counted),
    }
    turns = [split.transition_ms for split in splits if split.transition_ms is not None]
    return data | ({"transition_ms": round(median(turns))} if turns else {})


def _counted_one_by_one(plan: Plan, splits: list[LegSplit]) -> list[tuple[LegSplit, Leg]]:
    """The complete stations, each with its leg, that have several units and a tap for every one of them."""
    legs = {(leg.round, leg.number): leg for leg in plan.legs}
    named = [(split, legs[(split.round - 1) % plan.rounds_a_lap + 1, split.number]) for split in splits]
    return [(split, leg) for split, leg in named if len(split.unit_ms) == leg.station.amount > 1 and split.end_ms]
