"""The heat view: everything the lane pad, the on-air heat standing and the venue board show of one heat.

A frame is plain data without nulls (a missing value is a missing key), because a JSON Merge Patch (RFC 7396) uses
null to remove a key. Lanes are keyed by number, so that a tap patches a few values of one lane.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition, Event, Heat
from tallywire.core.model.workout import Leg, Plan
from tallywire.core.ranking.points import plain
from tallywire.core.standings.in_event import InEvent
from tallywire.core.standings.overall import field_before
from tallywire.core.standings.worth import worth_of_places
from tallywire.core.views.own_rules import rules_data

Frame = dict[str, Any]


def heat_frame(competition: Competition, state: HeatState, in_event: Mapping[int, InEvent] | None = None) -> Frame:
    """Give the heat view. Times are integer milliseconds on the heat clock unless the name says unix.

    A lane on medical hold is not in it: its numbers are off every picture until a person releases it.
    """
    off_air = {lane.lane for lane in state.lanes.values() if lane.conduct.held}
    order = [lane for lane in state.order if lane not in off_air]
    leader = order[0] if order and state.lanes[order[0]].tally.done else None
    known = in_event or {}
    return {
        "view": "heat",
        "competition": {"name": competition.name},
        "divisions": _divisions(competition, state),
        "event": event_data(state.event, state.plan),
        "heat": {**heat_data(competition, state.heat), "status": _heat_status(state)},
        "clock": clock_data(state),
        "leader": {} if leader is None else {"lane": leader, "round": state.lanes[leader].position.round},
        "order": order,
        "lanes": {
            str(lane.lane): _shown_lane(lane, known.get(lane.lane))
            for lane in state.lanes.values()
            if lane.lane not in off_air
        },
    }


def worth_data(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    """What each place in the event is worth, for the views in which a lane has points.

    It is the same object as long as the same entries are in the event; with a vacant place, until a result changes.
    """
    fields = [field_before(snapshot, heat.event.id, division) for division in heat.divisions]
    results = snapshot.heats_of(heat.event.id) if heat.event.scored_parts()[0].vacant else ()
    return snapshot.kept(("worth data", heat.heat.id), results, lambda: _worth_data(snapshot, heat), also=fields)


def _worth_data(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    worth = worth_of_places(snapshot, heat)
    return {"worth": {division: [plain(each) for each in values] for division, values in worth.items()}}


def heat_data(competition: Competition, heat: Heat) -> Frame:
    """Name a heat, and its floor where floors have names."""
    floor = competition.floors.get(heat.floor)
    where = {} if floor is None else {"floor": {"id": floor.id, "name": floor.name}}
    return {"id": heat.id, "name": heat.name, **where}


def clock_data(state: HeatState) -> Frame:
    """What a page needs to run the clock by itself: heat clock = (unix now - zero_unix_ms) x the server's speed."""
    started = state.started
    return {
        "cap_ms": state.event.workout.time_cap_ms,
        **_present(
            zero_unix_ms=None if started is None else started.unix_ms,
            zero_at_ms=None if started is None else started.at_ms,
            ended_ms=state.ended_ms,
        ),
    }


def event_data(event: Event, plan: Plan) -> Frame:
    """The event and its workout as a page needs it: legs of one lap with the numbers at their ends.

    `part` names the scored part that places in the event and points are of, where there are several.
    """
    part = {"part": event.parts[0].name} if event.parts else {}
    return {"id": event.id, "name": event.name, **part, **_work_data(plan)}


@lru_cache(maxsize=256)
def _work_data(plan: Plan) -> Frame:
    """The data of a plan never change: they are made once and only read."""
    return {
        "format": plan.workout.format,
        "rounds_a_lap": plan.rounds_a_lap,
        "lap_done": plan.lap_done,
        "lap_scored": plan.lap_scored,
        **_present(laps=plan.laps, total_scored=plan.total_scored, total_done=plan.total_done),
        "legs": [_leg_data(leg) for leg in plan.legs],
        **rules_data(plan.workout),
    }


def _shown_lane(lane: LaneState, place: InEvent | None) -> Frame:
    """A lane's data, kept with it for all views and made again only when the lane or its place in the event changes."""
    if place is None:
        return lane_data(lane)
    kept = lane.kept.get("shown")
    if kept is None or kept[0] != place:
        kept = lane.kept["shown"] = (place, lane_data(lane) | _in_event(place))
    shown: Frame = kept[1]
    return shown


def lane_data(lane: LaneState) -> Frame:
    """One lane. Gaps are the scored reps by which it trails; `place` is among its division in this heat, as it stands.

    It is kept with the lane: read it, do not change it.
    """
    if "data" not in lane.kept:
        lane.kept["data"] = _lane_data(lane)
    data: Frame = lane.kept["data"]
    return data


def _lane_data(lane: LaneState) -> Frame:
    position = lane.position
    return {
        "lane": lane.lane,
        "entry": lane.entry.id,
        "name": lane.entry.name,
        "short": lane.entry.short,
        "home": lane.entry.home,
        "division": lane.entry.division,
        "status": lane.status.value,
        "place": lane.place,
        "shared": lane.place_shared,
        "scored_reps": lane.scored_reps,
        "done": lane.tally.done,
        "round": position.round,
        "station": position.number,
        "movement": position.station.movement,
        "unit": position.station.unit,
        "station_done": position.station_done,
        "station_amount": position.station.amount,
        "credit": position.station.credit.value,
        "next_mark": position.next_mark,
        "round_mark": position.round_mark,
        "gap_leader": lane.gap_leader,
        "gap_next": lane.gap_next,
        "no_reps": lane.tally.no_reps,
        "result": lane.outcome.result,
        "reached_ms": lane.tally.reached_ms,
        "remarks": len(lane.tally.remarks),
        "splits": {f"{mark.round}.{mark.station}": at_ms for mark, at_ms in lane.splits.items()},
        **_present(
            reps_to_go=lane.reps_to_go,
            finish_ms=lane.finish_ms,
            withdrawn_ms=lane.conduct.withdrawn_ms,
            penalty_ms=lane.conduct.penalty_ms or None,
        ),
    }


def _in_event(lane: InEvent) -> Frame:
    event = {"place": lane.place, "shared": lane.shared, "of": lane.of, **_present(to_beat=lane.to_beat)}
    return {"points": lane.points, "in_event": event}


def _divisions(competition: Competition, state: HeatState) -> Frame:
    """Only the divisions on the floor."""
    on_floor = {lane.entry.division for lane in state.lanes.values()}
    return {each.id: {"name": each.name} for each in competition.divisions.values() if each.id in on_floor}


def _leg_data(leg: Leg) -> Frame:
    station = leg.station
    return {
        "round": leg.round,
        "station": leg.number,
        "movement": station.movement,
        "amount": station.amount,
        "unit": station.unit,
        "credit": station.credit.value,
        "done_after": leg.done_after,
        "scored_after": leg.scored_after,
        "expected_ms": station.expected_ms,
        "touch_guard_ms": station.touch_guard_ms,
        "loads": dict(station.loads),
    }


def _heat_status(state: HeatState) -> str:
    if state.over:
        return "over"
    return "running" if state.started else "waiting"


def _present(**values: object) -> Frame:
    return {name: value for name, value in values.items() if value is not None}
