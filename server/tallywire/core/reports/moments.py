"""The moments of a recorded heat that an editor looks for in the footage: cues, leads, no-reps, finishes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tallywire.core.cues.cue import Cue
from tallywire.core.cues.wording import Wording
from tallywire.core.cues.wording import say as cue_line
from tallywire.core.facts import Fact
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.counting import finish_ms
from tallywire.core.gaps.lead_changes import lead_changes
from tallywire.core.model.competition import Competition
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan
from tallywire.core.reports.say import Saying


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Something that happened at `at_ms` on the heat clock; `kind` is start, lead, no_rep, finish or end.

    `key` names its text in table `moment` of the catalogues, and `values` are the names and numbers in it. `lane` is
    None where none is meant.
    """

    at_ms: int
    kind: str
    key: str
    values: Mapping[str, str | int]
    lane: int | None = None

    def said(self, say: Saying) -> str:
        """Put the moment into words."""
        amounts = {name: say("shared.reps", n=each) for name, each in self.values.items() if isinstance(each, int)}
        return say(f"moment.{self.key}", **{**self.values, **amounts})


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A moment or a cue in words; `kind` is that of the moment, or cue. `lane` is None for several lanes or none."""

    at_ms: int
    kind: str
    line: str
    lane: int | None


def moments(competition: Competition, heat: str, facts: Sequence[Fact]) -> list[Moment]:
    """Give the moments of a recorded heat but its cues, in no order; without what was corrected or taken back later.

    A failed lift counts as a no-rep.
    """
    book = CompetitionBook(competition, facts).at_clocks({heat: LATER_MS}, others_ms=LATER_MS)
    return heat_moments(book.heats[heat].state)


def chapters(
    found: Sequence[Moment], script: Sequence[tuple[int, Cue]], *, wording: Wording, say: Saying
) -> list[Chapter]:
    """Give moments and cues in words, in order of time. `script` has the cues, each with when it came up."""
    cues = [
        Chapter(at_ms=at_ms, kind="cue", line=cue_line(cue, wording), lane=_only(cue.lanes)) for at_ms, cue in script
    ]
    others = [Chapter(at_ms=each.at_ms, kind=each.kind, line=each.said(say), lane=each.lane) for each in found]
    return sorted([*cues, *others], key=lambda each: each.at_ms)


def heat_moments(state: HeatState) -> list[Moment]:
    """Give the moments of a heat but its cues, in no order."""
    found = _leads(state)
    for lane in state.lanes.values():
        found += _of_lane(state.plan, lane)
    if state.started is not None:
        values = {"event": state.event.name, "heat": state.heat.name}
        found.append(Moment(at_ms=0, kind="start", key="start", values=values))
    if state.ended_ms is not None:
        found.append(Moment(at_ms=state.ended_ms, kind="end", key="end", values={}))
    return found


def _leads(state: HeatState) -> list[Moment]:
    return [
        Moment(
            at_ms=each.at_ms,
            kind="lead",
            key="leads" if each.first else "takes_lead",
            values={"name": state.lanes[each.lane].entry.name, "reps": each.scored_reps},
            lane=each.lane,
        )
        for changes in lead_changes(state).values()
        for each in changes
    ]


def _of_lane(plan: Plan, lane: LaneState) -> list[Moment]:
    name, number = {"name": lane.entry.name}, lane.lane
    found = [
        Moment(at_ms=at_ms, kind="no_rep", key="no_rep", values=name, lane=number) for at_ms in lane.tally.no_reps_ms
    ]
    at_ms = finish_ms(plan, lane.tally)
    if lane.status is Status.FINISHED and at_ms is not None and lane.finish_ms is not None:
        values = {**name, "time": clock_text(lane.finish_ms)}
        found.append(Moment(at_ms=at_ms, kind="finish", key="finish", values=values, lane=number))
    return found


def _only(lanes: Sequence[int]) -> int | None:
    return lanes[0] if len(lanes) == 1 else None
