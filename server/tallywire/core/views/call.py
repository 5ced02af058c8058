"""The call: everything a commentator may want to know of a heat, worked out, in one frame."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from tallywire.core.clinching.prospects import Stakes
from tallywire.core.cues import Cue
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.forecast.answer import Forecast
from tallywire.core.formats.base import Status
from tallywire.core.gaps.gaps import ghost_gap
from tallywire.core.gaps.path import Path, lane_path
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.points import plain
from tallywire.core.standings.change import Changes
from tallywire.core.standings.event_table import EventRow
from tallywire.core.standings.in_event import InEvent
from tallywire.core.views.call_outlook import Proved, outlook_data, overall_data, stakes_data
from tallywire.core.views.call_work import chases, is_counted, on_air, work_frames
from tallywire.core.views.heat import Frame, heat_frame

_OPEN = (Status.READY, Status.WORKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToBeat:
    """The best result of the event's other heats: whose it is, and the path that led to it."""

    row: EventRow
    path: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoken:
    """A cue that is alive, in words."""

    cue: Cue
    line: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CallNotes:
    """What the call shows besides the state of the heat; it is worked out elsewhere, and what is not known is empty.

    `to_beat`, `stakes` and the `changes` of the overall standing go by division, `worth` gives each division's points
    by place, first place first. Of the divisions that run `elsewhere` too, what comes of the event is not forecast.
    """

    in_event: Mapping[int, InEvent] = field(default_factory=dict)
    outlook: Forecast | None = None
    stakes: Mapping[str, Stakes] = field(default_factory=dict)
    changes: Mapping[str, Changes] = field(default_factory=dict)
    to_beat: Mapping[str, ToBeat] = field(default_factory=dict)
    worth: Mapping[str, Sequence[Fraction]] = field(default_factory=dict)
    elsewhere: Collection[str] = ()
    cues: Sequence[Spoken] = ()


def call_frame(competition: Competition, state: HeatState, notes: CallNotes) -> Frame:
    """Give the call: the heat view, and for each lane gaps, marks, pace, forecast, what it needs; cues newest first.

    A lane on medical hold is not in it, and nothing in it is measured against such a lane or names it.
    """
    shown = on_air(state)
    hidden = {lane.entry.id for lane in state.lanes.values() if lane.conduct.held}
    heat, work = heat_frame(competition, state, notes.in_event), work_frames(shown)
    lanes = {
        str(number): heat["lanes"][str(number)]
        | work[number]
        | _ghost(shown, lane, notes)
        | _outlook(state, lane, notes)
        | _stakes(competition, state, lane, notes, hidden)
        for number, lane in shown.lanes.items()
    }
    on_floor = {lane.entry.id: number for number, lane in shown.lanes.items()}
    return heat | {
        "view": "call",
        "lanes": lanes,
        "chases": chases(shown),
        "to_beat": {each: _to_beat(found) for each, found in notes.to_beat.items()},
        "worth": {each: [plain(points) for points in values] for each, values in notes.worth.items()},
        "overall": {
            each: overall_data(competition, notes.changes[each], found, lanes=on_floor)
            | ({"elsewhere": True} if each in notes.elsewhere else {})
            for each, found in notes.stakes.items()
        },
        "cues": [_cue(each) for each in sorted(notes.cues, key=lambda each: (-each.cue.at_ms, -each.cue.weight))],
    }


def _ghost(state: HeatState, lane: LaneState, notes: CallNotes) -> Frame:
    """How far a lane is behind (positive) or ahead of (negative) the best earlier heat at this point of the work."""
    best = notes.to_beat.get(lane.entry.division)
    if best is None or not is_counted(state) or not lane.tally.done or not lane.status.has_result:
        return {}
    gap = ghost_gap(lane_path(state, lane), best.path, state.clock_ms)
    return {} if gap is None else {"ghost": {"ms": gap.behind_ms, "precision": gap.precision.value}}


def _outlook(state: HeatState, lane: LaneState, notes: CallNotes) -> Frame:
    found = None if notes.outlook is None else notes.outlook.lanes.get(lane.lane)
    if found is None or not lane.status.has_result:
        return {}
    rivals = (each for each in state.lanes.values() if each.entry.division == lane.entry.division)
    stakes = notes.stakes.get(lane.entry.division)
    prospect = None if stakes is None else stakes.prospects.get(lane.entry.id)
    proved = Proved(
        result=lane.status not in _OPEN,
        places=all(each.status not in _OPEN for each in rivals),
        overall=None if prospect is None else (prospect.need.best, prospect.need.worst),
    )
    return {"outlook": outlook_data(found, proved, elsewhere=lane.entry.division in notes.elsewhere)}


def _stakes(competition: Competition, state: HeatState, lane: LaneState, notes: CallNotes, hidden: set[str]) -> Frame:
    stakes = notes.stakes.get(lane.entry.division)
    if stakes is None or lane.entry.id not in stakes.prospects:
        return {}
    cut = competition.cut_after(state.event.id, lane.entry.division)
    prospect = stakes.prospects[lane.entry.id]
    size = None if cut is None else cut.size
    lanes = {each.entry.id: number for number, each in state.lanes.items()}
    needs = stakes_data(competition, prospect, cut=size, lanes=lanes, hidden=hidden)
    needs |= {"scores": stakes.scores} if stakes.scores > 1 else {}
    return {"stakes": needs | {"clinched": lane.entry.id == stakes.clinched}}


def _to_beat(best: ToBeat) -> Frame:
    row = best.row
    return {
        "entry": row.entry.id,
        "name": row.entry.name,
        "short": row.entry.short,
        "heat": row.heat,
        "result": row.outcome.result,
    }


def _cue(spoken: Spoken) -> Frame:
    cue = spoken.cue
    return {
        "key": cue.key,
        "kind": cue.kind.value,
        "weight": cue.weight,
        "at_ms": cue.at_ms,
        "until_ms": cue.until_ms,
        "lanes": list(cue.lanes),
        "line": spoken.line,
        "values": dict(cue.values),
    }
