"""What the call says of a lane's own work: gaps both ways, the marks ahead, plain totals, pace, rests and fade."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from tallywire.core.cues.chase import chase, expected_finish_ms
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.forecast.scene import Race
from tallywire.core.formats.base import Status, Tally
from tallywire.core.formats.intervals import piece_ms
from tallywire.core.gaps.gaps import GapNumbers, LaneGaps, heat_gaps
from tallywire.core.gaps.marks import Total, totals
from tallywire.core.gaps.marks import ahead as marks_ahead
from tallywire.core.gaps.pace import (
    LegSplit,
    fades,
    leg_splits,
    no_rep_rate,
    rate_now,
    round_splits,
    unbroken,
    work_sets,
)
from tallywire.core.model.workout import Plan
from tallywire.core.views.heat import Frame
from tallywire.core.views.own_rules import work_data


def on_air(state: HeatState) -> HeatState:
    """Give the heat without its lanes on medical hold: nothing is measured against them. Places stay as they are."""
    lanes = {number: lane for number, lane in state.lanes.items() if not lane.conduct.held}
    return replace(state, lanes=lanes, order=tuple(number for number in state.order if number in lanes))


def is_counted(state: HeatState) -> bool:
    """Tell whether the work is one count from start to end; in lifts, ladders and intervals it is not."""
    return Race.of(state.event.workout.format).is_counted


def work_frames(state: HeatState) -> dict[int, Frame]:
    """Give every lane's gaps, marks, totals and pace, by lane; of work that is not one count, what there is of them."""
    if not is_counted(state):
        return {number: _in_parts(state, lane) for number, lane in state.lanes.items()}
    gaps = heat_gaps(state)
    start_ms = 0 if state.started is None else state.started.at_ms
    splits = {number: leg_splits(state.plan, lane.tally, start_ms=start_ms) for number, lane in state.lanes.items()}
    rounds = {number: round_splits(state.plan, each) for number, each in splits.items()}
    return {
        number: {
            "behind": _behind(gaps[number]),
            **_mark(state.plan, lane),
            "totals": _totals(state.plan, lane, [lane.tally]),
            "pace": _pace(state, lane, splits[number], rounds) if lane.tally.done else {},
        }
        for number, lane in state.lanes.items()
    }


def _in_parts(state: HeatState, lane: LaneState) -> Frame:
    """Attempts of a lift, the next bar of a ladder, intervals piece by piece: no lane can be timed against another."""
    plan, race = state.plan, Race.of(state.event.workout.format)
    if race is Race.LOAD:
        return work_data(lane.tally, state.event.workout)
    if race is Race.LADDER:
        pace: Frame = {"pace": _misses(lane)} if lane.tally.done else {}
        return {**_mark(plan, lane), "totals": _totals(plan, lane, [lane.tally]), **pace}
    if race is Race.PIECES and lane.tally.pieces:
        pieces = [_piece(plan, number, piece) for number, piece in enumerate(lane.tally.pieces) if piece.trail]
        return {
            "totals": _totals(plan, lane, lane.tally.pieces),
            "piece_list": pieces,
            "pace": _piece_pace(state, lane),
        }
    return {}


def _piece(plan: Plan, number: int, piece: Tally) -> Frame:
    data: Frame = {"number": number + 1, "reps": plan.scored(piece.done)}
    rules = plan.workout.intervals
    took_ms = None if rules is None else piece_ms(plan, piece, number, rules)
    return data if took_ms is None else data | {"ms": took_ms}


def _piece_pace(state: HeatState, lane: LaneState) -> Frame:
    """The rate inside a piece; in the rest between two there is none."""
    rules, clock_ms = state.event.workout.intervals, state.clock_ms
    works = rules is not None and clock_ms % (rules.work_ms + rules.rest_ms) < rules.work_ms
    rate = rate_now(lane.tally, clock_ms) if works and lane.status is Status.WORKING else None
    return _misses(lane) | ({} if rate is None else {"rate": round(rate, 1)})


def _misses(lane: LaneState) -> Frame:
    return {"no_rep_share": round(no_rep_rate(lane.tally), 2)}


def chases(state: HeatState) -> list[Frame]:
    """Give every neighbour at work that will be level with the one ahead before that one is home, best place first."""
    pairs = _neighbours(state) if is_counted(state) else []
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


def _neighbours(state: HeatState) -> list[tuple[LaneState, LaneState]]:
    """Each lane at work with the lane at work one place ahead of it in its division."""
    working = [lane for lane in map(state.lanes.__getitem__, state.order) if lane.status is Status.WORKING]
    divisions = dict.fromkeys(lane.entry.division for lane in working)
    groups = [[lane for lane in working if lane.entry.division == division] for division in divisions]
    pairs = [(behind, ahead) for group in groups for ahead, behind in pairwise(group)]
    return [(behind, ahead) for behind, ahead in pairs if ahead.tally.done > behind.tally.done]


def _home_ms(state: HeatState, lane: LaneState) -> int:
    cap_ms = state.event.workout.time_cap_ms
    return min(cap_ms, expected_finish_ms(state, lane) or cap_ms)


def _behind(gaps: LaneGaps) -> Frame:
    named = {"leader": gaps.to_leader, "next": gaps.to_next}
    return {name: _gap(numbers) for name, numbers in named.items() if numbers is not None}


def _gap(numbers: GapNumbers) -> Frame:
    data: Frame = {"lane": numbers.lane, "reps": numbers.reps, "work_ms": numbers.work_ms}
    if numbers.seconds is not None:
        data |= {"ms": numbers.seconds.behind_ms, "precision": numbers.seconds.precision.value}
    return data


def _mark(plan: Plan, lane: LaneState) -> Frame:
    found = None if lane.status not in (Status.READY, Status.WORKING) else marks_ahead(plan, lane.tally.done)
    if found is None:
        return {}
    mark = {
        "scored": found.next.scored,
        "ends": found.next.ends.value,
        "round": found.next.round,
        "movement": found.next.movement,
        "to_it": found.reps_to_next,
        "to_round_end": found.reps_to_round_end,
    }
    return {"mark": mark}


def _totals(plan: Plan, lane: LaneState, tallies: Sequence[Tally]) -> list[Frame]:
    """The work of one or several tallies in plain totals, kilograms where they are known of all."""
    found: dict[tuple[str, str], list[Total]] = {}
    for total in (each for tally in tallies for each in totals(plan, tally.done, lane.entry.division)):
        found.setdefault((total.movement, total.unit), []).append(total)
    return [
        {"movement": movement, "unit": unit, "amount": sum(each.amount for each in own)} | _kilograms(own)
        for (movement, unit), own in found.items()
    ]


def _kilograms(own: Sequence[Total]) -> Frame:
    known = [each.kg for each in own if each.kg is not None]
    return {"kg": round(sum(known), 1)} if len(known) == len(own) else {}


def _pace(state: HeatState, lane: LaneState, splits: list[LegSplit], rounds: Mapping[int, Mapping[int, int]]) -> Frame:
    own = rounds[lane.lane]
    rivals = [rounds[number] for number, other in state.lanes.items() if other.entry.division == lane.entry.division]
    data: Frame = {
        "rounds": {str(number): ms for number, ms in own.items()},
        **_stations(splits),
        **_misses(lane),
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
    """Every complete station by round and number, and of each the transition where facts show one."""
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
    legs = {(leg.round, leg.number): leg for leg in plan.legs}
    named = [(split, legs[(split.round - 1) % plan.rounds_a_lap + 1, split.number]) for split in splits]
    counted = [pair for pair in named if len(pair[0].unit_ms) == pair[1].station.amount > 1 and pair[0].end_ms]
    turns = [split.transition_ms for split in splits if split.transition_ms is not None]
    data: Frame = {
        "rests": len(rests),
        "rest_ms": sum(rests),
        "unbroken": sum(unbroken(*pair) for pair in counted),
        "unbroken_of": len(counted),
    }
    return data | ({"transition_ms": round(median(turns))} if turns else {})
