"""The whole call of a sight, which takes a while: what the cue desk makes of it, the forecast, and what is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tallywire.core.call.steps import Sight, notes_of
from tallywire.core.clinching.event_race import part_races, to_come
from tallywire.core.clinching.race import NotWorkedOut
from tallywire.core.clinching.stakes import heat_stakes
from tallywire.core.cues import CueDesk, Observation, Wording, cues
from tallywire.core.cues.script import observed
from tallywire.core.forecast.answer import Forecast
from tallywire.core.forecast.of_event import (
    SEED,
    event_scene,
    finishes,
    is_modelled,
    looks_at_cap,
    overall_of,
    points_of,
)
from tallywire.core.forecast.predict import forecast
from tallywire.core.forecast.scene import Overall
from tallywire.core.model.competition import Competition
from tallywire.core.views.call import call_frame
from tallywire.core.views.heat import Frame


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
        replace(notes_of(sight, desk, wording), stakes=stakes, outlook=outlook),
    )


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
