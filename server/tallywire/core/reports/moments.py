"""The moments of a recorded heat that an editor looks for in the footage: cues, leads, no-reps, finishes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tallywire.core.cues.cue import Cue
from tallywire.core.cues.wording import Wording, say
from tallywire.core.facts import Fact
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.counting import finish_ms
from tallywire.core.gaps.lead_changes import lead_changes
from tallywire.core.model.competition import Competition
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Something that happened at `at_ms` on the heat clock; `kind` is start, cue, lead, no_rep, finish or end.

    `lane` is None where several lanes are meant or none.
    """

    at_ms: int
    kind: str
    line: str
    lane: int | None = None


def moments(
    competition: Competition, heat: str, facts: Sequence[Fact], script: Sequence[tuple[int, Cue]], wording: Wording
) -> list[Moment]:
    """Give the moments in order of time. What was corrected or taken back later is left out, except in the cues.

    `script` has the cues of the heat, each with the time at which it came up. A failed lift counts as a no-rep.
    """
    state = CompetitionBook(competition, facts).at_clocks({heat: LATER_MS}, others_ms=LATER_MS).heats[heat].state
    found = [Moment(at_ms=at_ms, kind="cue", line=say(cue, wording), lane=_only(cue.lanes)) for at_ms, cue in script]
    return sorted([*found, *heat_moments(state)], key=lambda each: each.at_ms)


def heat_moments(state: HeatState) -> list[Moment]:
    """Give the moments of a heat but its cues, in no order."""
    found = _leads(state)
    for lane in state.lanes.values():
        found += _of_lane(state.plan, lane)
    if state.started is not None:
        found.append(Moment(at_ms=0, kind="start", line=f"{state.event.name}, {state.heat.name}: start"))
    if state.ended_ms is not None:
        found.append(Moment(at_ms=state.ended_ms, kind="end", line="End of the heat"))
    return found


def _leads(state: HeatState) -> list[Moment]:
    return [
        Moment(
            at_ms=each.at_ms,
            kind="lead",
            line=f"{state.lanes[each.lane].entry.name} {'leads' if each.first else 'takes the lead'} with "
            f"{each.scored_reps} {'rep' if each.scored_reps == 1 else 'reps'}",
            lane=each.lane,
        )
        for changes in lead_changes(state).values()
        for each in changes
    ]


def _of_lane(plan: Plan, lane: LaneState) -> list[Moment]:
    name, number = lane.entry.name, lane.lane
    found = [Moment(at_ms=at_ms, kind="no_rep", line=f"No-rep: {name}", lane=number) for at_ms in lane.tally.no_reps_ms]
    at_ms = finish_ms(plan, lane.tally)
    if lane.status is Status.FINISHED and at_ms is not None and lane.finish_ms is not None:
        line = f"{name} finishes: {clock_text(lane.finish_ms)}"
        found.append(Moment(at_ms=at_ms, kind="finish", line=line, lane=number))
    return found


def _only(lanes: Sequence[int]) -> int | None:
    return lanes[0] if len(lanes) == 1 else None
