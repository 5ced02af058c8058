"""The gap view, for commentators: who leads, and by how much in reps, in work and in seconds."""

from __future__ import annotations

from collections.abc import Mapping

from tallywire.core.fold.heat import HeatState
from tallywire.core.formats.registry import format_of
from tallywire.core.gaps.gaps import GapNumbers, LaneGaps, heat_gaps
from tallywire.core.gaps.lead_changes import lead_changes
from tallywire.core.model.competition import Competition
from tallywire.core.standings.in_event import InEvent
from tallywire.core.views.heat import Frame, heat_frame


def gap_frame(competition: Competition, state: HeatState, in_event: Mapping[int, InEvent] | None = None) -> Frame:
    """Give the gap view: the heat view, how far each lane is `behind`, and the `leads` so far, from the facts.

    Work that is not one count from start to end has no `behind`: no lane can be timed against another.
    """
    heat = heat_frame(competition, state, in_event)
    gaps = heat_gaps(state) if format_of(state.event.workout).counting.one_count else {}
    lanes = {
        number: lane | ({"behind": behind_data(gaps[int(number)])} if gaps else {})
        for number, lane in heat["lanes"].items()
    }
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


def behind_data(gaps: LaneGaps) -> Frame:
    """Give a lane's gaps to the leader and to the next better place; empty for a leader."""
    named = {"leader": gaps.to_leader, "next": gaps.to_next}
    return {name: _gap(numbers) for name, numbers in named.items() if numbers is not None}


def _gap(numbers: GapNumbers) -> Frame:
    data: Frame = {"lane": numbers.lane, "reps": numbers.reps, "work_ms": numbers.work_ms}
    if numbers.seconds is not None:
        data |= {"ms": numbers.seconds.behind_ms, "precision": numbers.seconds.precision.value}
    return data
