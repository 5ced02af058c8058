"""What the call says of a lane's own work: gaps both ways, the marks ahead, plain totals, pace, rests and fade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import median

from tallywire.core.cues.chase import chase, expected_finish_ms, neighbours
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.registry import format_of
from tallywire.core.gaps.gaps import heat_gaps
from tallywire.core.gaps.pace import (
    LegSplit,
    fades,
    lane_splits,
    rate_now,
    round_splits,
    unbroken,
    usual_slowing,
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
    work = {number: _lane_work(state, lane) for number, lane in state.lanes.items()}
    divisions = dict.fromkeys(lane.entry.division for lane in state.lanes.values())
    usual = {each: usual_slowing(_rounds(state, work, each)) for each in divisions}
    return {
        number: {
            "behind": behind_data(gaps[number]),
            **work[number].mark,
            "totals": work[number].totals,
            "pace": _pace(state, lane, work[number], usual[lane.entry.division]) if lane.tally.done else {},
        }
        for number, lane in state.lanes.items()
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _LaneWork:
    """What is said of a lane's work until its next fact; `rounds` are the times of its complete rounds."""

    start_ms: int
    mark: Frame
    totals: list[Frame]
    rounds: Mapping[int, int]
    pace: Frame


def _lane_work(state: HeatState, lane: LaneState) -> _LaneWork:
    """Read a lane's work. It is kept with the lane."""
    start_ms = 0 if state.started is None else state.started.at_ms
    kept: _LaneWork | None = lane.kept_of_work.get("call")
    if kept is None or kept.start_ms != start_ms:
        splits = lane_splits(state.plan, lane, start_ms=start_ms)
        rounds = round_splits(state.plan, splits)
        kept = lane.kept_of_work["call"] = _LaneWork(
            start_ms=start_ms,
            mark=mark_data(state.plan, lane),
            totals=totals_data(state.plan, lane, [lane.tally]),
            rounds=rounds,
            pace={
                "rounds": {str(number): ms for number, ms in rounds.items()},
                **_stations(splits),
                **misses_data(lane),
                **_sets(state.plan, splits),
            },
        )
    return kept


def _rounds(state: HeatState, work: Mapping[int, _LaneWork], division: str) -> list[Mapping[int, int]]:
    return [work[number].rounds for number, lane in state.lanes.items() if lane.entry.division == division]


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


def _pace(state: HeatState, lane: LaneState, work: _LaneWork, usual: Mapping[int, float]) -> Frame:
    data = dict(work.pace)
    rate = rate_now(lane.tally, state.clock_ms) if lane.status is Status.WORKING else None
    if rate is not None:
        data["rate"] = round(rate, 1)
    slowing = fades(work.rounds, usual)
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
