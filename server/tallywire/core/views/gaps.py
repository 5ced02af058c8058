"""The gap view: what a commentator reads. Who leads, by how much in reps, and how far back in time at the last mark."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.gaps.lead_changes import lead_changes
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Mark
from tallywire.core.standings.in_event import InEvent
from tallywire.core.views.heat import Frame, heat_frame


def gap_frame(competition: Competition, state: HeatState, in_event: Mapping[int, InEvent] | None = None) -> Frame:
    """Give the gap view.

    `behind_ms` compares the same mark passed by both: the last station end this lane passed, its time less the time
    of the leader (`leader`) or of the next lane ahead (`ahead`) there. Nothing is estimated between marks. `leads` are
    the changes of the lead so far, from the facts.
    """
    heat = heat_frame(competition, state, in_event)
    rivals = _by_division(state, heat["order"])
    lanes = {number: lane | _times(state.lanes[int(number)], rivals) for number, lane in heat["lanes"].items()}
    leads = [change for changes in lead_changes(state).values() for change in changes]
    return heat | {
        "view": "gaps",
        "lanes": lanes,
        "leads": [
            {"lane": each.lane, "at_ms": each.at_ms, "scored_reps": each.scored_reps, "first": each.first}
            for each in leads
            if not state.lanes[each.lane].conduct.held
        ],
    }


def _by_division(state: HeatState, order: list[int]) -> dict[str, list[LaneState]]:
    found: dict[str, list[LaneState]] = {}
    for number in order:
        lane = state.lanes[number]
        found.setdefault(lane.entry.division, []).append(lane)
    return found


def _times(lane: LaneState, divisions: Mapping[str, Sequence[LaneState]]) -> Frame:
    rivals = divisions[lane.entry.division]
    found: Frame = {}
    if lane.splits:
        mark, at_ms = list(lane.splits.items())[-1]
        found["last_mark"] = {"round": mark.round, "station": mark.station, "at_ms": at_ms}
        behind = {"leader": _behind(lane, rivals[0], mark)}
        if lane is not rivals[0]:
            ahead = next(ahead for ahead, other in pairwise(rivals) if other is lane)
            behind["ahead"] = _behind(lane, ahead, mark)
        found["behind_ms"] = {name: value for name, value in behind.items() if value is not None}
    return found


def _behind(lane: LaneState, other: LaneState, mark: Mark) -> int | None:
    return lane.splits[mark] - other.splits[mark] if mark in other.splits else None
