"""How a snapshot of a heat becomes the call, in steps that can run in different threads.

`see` reads a snapshot and is quick. `listen` and `make_call` work on what was seen, and may run in another thread while
more facts come in. The same facts at the same clock give the same call.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from tallywire.core.clinching import NotWorkedOut
from tallywire.core.clinching.before import Before, division_before
from tallywire.core.clinching.event_race import PartRows, part_races, to_come
from tallywire.core.clinching.stakes import heat_stakes
from tallywire.core.cues import CueDesk, Observation, Wording, cues, observed, say
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.forecast.model import History, Taught
from tallywire.core.forecast.of_event import (
    SEED,
    event_scene,
    finishes,
    is_modelled,
    lesson,
    looks_at_cap,
    overall_of,
    points_of,
)
from tallywire.core.forecast.past import histories
from tallywire.core.forecast.predict import Forecast, forecast
from tallywire.core.forecast.scene import Overall
from tallywire.core.gaps.path import lane_path
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.points import worths
from tallywire.core.standings.change import Changes, changes_of
from tallywire.core.standings.event_table import best_result, event_table
from tallywire.core.standings.in_event import InEvent, event_rows, lanes_in_event
from tallywire.core.standings.overall import field_size_in
from tallywire.core.views.call import CallNotes, Spoken, ToBeat, call_frame
from tallywire.core.views.heat import Frame


class Past:
    """The heats of earlier events that are over."""

    def __init__(self, states: Sequence[HeatState]) -> None:
        self.states = tuple(states)

    @cached_property
    def history(self) -> dict[str, History]:
        """What they say of each entry. It takes a while, so it is worked out only when it is asked for."""
        return histories(self.states, seed=SEED)


class Others:
    """The event's other heats that are over."""

    def __init__(self, states: Sequence[HeatState]) -> None:
        self.states = tuple(states)

    @cached_property
    def learned(self) -> Taught | None:
        """What they teach about the workout. It takes a while, so it is worked out only when it is asked for."""
        return lesson(self.states)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a call rests on besides its own heat: the event's heats that are over, and the divisions before it.

    `others` and `past` stay the same objects, with all they have worked out, as long as no fact changes those heats.
    `elsewhere` are the divisions that run in this event on another floor as well.
    """

    others: Others
    past: Past
    before: Mapping[str, Before]
    to_beat: Mapping[str, ToBeat]
    worth: Mapping[str, tuple[Fraction, ...]]
    elsewhere: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A heat as seen at one moment. Once `clock_ms` is past the end of the heat, `state` is that of the end."""

    state: HeatState
    clock_ms: int
    in_event: Mapping[int, InEvent]
    rows: Mapping[str, PartRows]
    changes: Mapping[str, Changes]
    ground: Ground


def ground_of(snapshot: Snapshot, heat: HeatSnapshot) -> Ground:
    """Read everything a call needs from outside the heat."""
    own, earlier = heat.event.id, snapshot.events_before(heat.event.id)
    over = [each for each in snapshot.heats_of(own) if _is_over(each) and each.heat is not heat.heat]
    past = [each for each in snapshot.heats.values() if _is_over(each) and each.event.id in earlier]
    others = snapshot.kept(("others", heat.heat.id), over, lambda: Others([each.settled for each in over]))
    return Ground(
        others=others,
        past=snapshot.kept(("past", own), past, lambda: Past([each.settled for each in past])),
        before={division: division_before(snapshot, division, own) for division in heat.divisions},
        to_beat=_to_beat(snapshot, heat, others),
        worth=_worth(snapshot, heat),
        elsewhere=_elsewhere(snapshot, heat),
    )


def _elsewhere(snapshot: Snapshot, heat: HeatSnapshot) -> frozenset[str]:
    running = (each for each in snapshot.heats_of(heat.event.id) if each.started is not None and not each.over)
    return frozenset(each for other in running if other.heat.floor != heat.heat.floor for each in other.divisions)


def _is_over(heat: HeatSnapshot) -> bool:
    return heat.started is not None and heat.over


def see(snapshot: Snapshot, heat: HeatSnapshot) -> Sight:
    """Look at a heat now, and at everything a call needs from outside it."""
    rows = event_rows(snapshot, heat)
    return Sight(
        state=heat.settled,
        clock_ms=heat.clock_ms,
        in_event=lanes_in_event(rows, heat),
        rows=rows,
        changes=changes_of(snapshot, heat),
        ground=ground_of(snapshot, heat),
    )


def listen(competition: Competition, desk: CueDesk, sight: Sight, outlook: Forecast | None = None) -> CueDesk:
    """Hand the cue desk what was seen, and the times at which lanes are forecast to finish."""
    if outlook is not None:
        desk = replace(desk, expected_ms=finishes(outlook), forecast_ms=sight.clock_ms)
    return cues(desk, _observation(competition, sight, desk.expected_ms))


def make_call(
    competition: Competition, sight: Sight, outlook: Forecast | None, *, desk: CueDesk, wording: Wording
) -> Frame:
    """Give the whole call, including the forecast and what is needed."""
    ground = sight.ground
    stakes = heat_stakes(competition, sight.state, before=ground.before, rows=sight.rows)
    return call_frame(
        competition,
        sight.state,
        replace(_notes(sight, desk, wording), stakes=stakes, outlook=outlook),
    )


def make_quick_call(competition: Competition, sight: Sight, *, desk: CueDesk, wording: Wording) -> Frame:
    """Give the call without the forecast and what is needed, for the moment until those are worked out."""
    return call_frame(competition, sight.state, _notes(sight, desk, wording))


def wants_outlook(sight: Sight, desk: CueDesk) -> bool:
    """Tell whether cues need a new forecast now: while they look at the cap, every few seconds, watched or not."""
    near_cap = looks_at_cap(sight.state) and sight.clock_ms < sight.state.event.workout.time_cap_ms
    return near_cap and desk.wants_forecast(sight.clock_ms)


def _observation(competition: Competition, sight: Sight, expected_ms: Mapping[int, int]) -> Observation:
    state = replace(sight.state, clock_ms=sight.clock_ms)
    return observed(
        competition,
        state,
        before=sight.ground.before,
        rows=sight.rows,
        changes=sight.changes,
        expected_ms=expected_ms,
    )


def _notes(sight: Sight, desk: CueDesk, wording: Wording) -> CallNotes:
    held = {number for number, lane in sight.state.lanes.items() if lane.conduct.held}
    alive = [cue for cue in desk.current if cue.until_ms > sight.clock_ms and not held & set(cue.lanes)]
    return CallNotes(
        in_event=sight.in_event,
        to_beat=sight.ground.to_beat,
        changes=sight.changes,
        worth=sight.ground.worth,
        elsewhere=sight.ground.elsewhere,
        cues=[Spoken(cue=cue, line=say(cue, wording)) for cue in alive],
    )


def look_ahead(competition: Competition, sight: Sight) -> Forecast | None:
    """Give the forecast; None before the start, when nothing is known yet, and for formats without a model."""
    state, ground = sight.state, sight.ground
    if state.started is None or not is_modelled(state.event) or not state.lanes:
        return None
    overall = _overall(competition, sight)
    scene = event_scene(
        competition,
        state,
        others=ground.others.states,
        overall=overall,
        learned=ground.others.learned,
        history=ground.past.history,
    )
    return forecast(scene, seed=SEED)


def _overall(competition: Competition, sight: Sight) -> dict[str, Overall]:
    """What places mean for the overall standing, by division.

    Only for the points where the standing is not worked out, and while somebody may still score in an event before,
    on another floor or in a heat to come: its results so far are not its end.
    """
    found, event = {}, sight.state.event
    for division, before in sight.ground.before.items():
        asked = part_races(competition, event, before, sight.rows[division])
        races = [replace(to_come(race), settled=()) for race in asked]
        if not races[0].ranked:
            continue
        is_left_out = before.open or (event.parts and event.workout.minimum_reps)
        try:
            found[division] = points_of(*races) if is_left_out else overall_of(*races)
        except NotWorkedOut:
            found[division] = points_of(*races)
    return found


def _to_beat(snapshot: Snapshot, heat: HeatSnapshot, others: Others) -> dict[str, ToBeat]:
    part = heat.event.scored_parts()[0]
    states = {state.heat.id: state for state in others.states}
    found = {}
    for division in heat.divisions:
        rows = event_table(snapshot, heat.event, part, division)
        best = best_result([row for row in rows if row.heat in states], before_heat=heat.heat.id)
        state = None if best is None else states[best.heat]
        if best is not None and state is not None and not state.lanes[best.lane].conduct.held:
            found[division] = ToBeat(row=best, path=lane_path(state, state.lanes[best.lane]))
    return found


def _worth(snapshot: Snapshot, heat: HeatSnapshot) -> dict[str, tuple[Fraction, ...]]:
    """What each place is worth, by division; in an event with several scores, for the first of them."""
    table = snapshot.competition.points[heat.event.scored_parts()[0].points]
    sizes = {each: field_size_in(snapshot, heat.event.id, each) for each in heat.divisions}
    return {division: worths(table, size) for division, size in sizes.items()}
