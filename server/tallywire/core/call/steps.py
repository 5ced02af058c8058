"""Calling a heat: from the book to the call, in steps that can be done apart.

`ground_of` and `see` read the book and are quick; `listen` and `make_call` work on what was seen and may run elsewhere
while facts go on coming in. The same facts at the same clock give the same call.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from tallywire.core.clinching import NotWorkedOut
from tallywire.core.clinching.before import Before, division_before
from tallywire.core.clinching.stakes import PartRows, heat_stakes, part_races, to_come
from tallywire.core.cues import CueDesk, Observation, Wording, cues, observed, say
from tallywire.core.fold.book import ClockOf, CompetitionBook
from tallywire.core.fold.heat import HeatBook, HeatState
from tallywire.core.forecast.mixed import Belief
from tallywire.core.forecast.model import History
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
from tallywire.core.gaps.gaps import lane_path
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.points import worths
from tallywire.core.standings.event_table import best_result, event_table
from tallywire.core.standings.in_event import InEvent, event_rows, lanes_in_event
from tallywire.core.standings.overall import field_size_in
from tallywire.core.views.call import CallNotes, Spoken, ToBeat, call_frame
from tallywire.core.views.heat import Frame


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What a call rests on besides its own heat: the event's heats that are over, each division before the event."""

    others: tuple[HeatState, ...]
    earlier: tuple[HeatState, ...]
    key: tuple[object, ...]
    before: Mapping[str, Before]
    to_beat: Mapping[str, ToBeat]
    worth: Mapping[str, tuple[Fraction, ...]]

    @cached_property
    def history(self) -> dict[str, History]:
        """What the heats of earlier events say of each entry."""
        return histories(self.earlier, seed=SEED)

    @cached_property
    def learned(self) -> Belief | None:
        """What the other heats teach about the workout."""
        return lesson(self.others, seed=SEED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A heat as seen at one moment. `state` stands at the end of the heat once `clock_ms` is past it."""

    state: HeatState
    clock_ms: int
    in_event: Mapping[int, InEvent]
    rows: Mapping[str, PartRows]
    ground: Ground


def ground_of(book: CompetitionBook, heat: HeatBook, *, clock_of: ClockOf, known: Ground | None = None) -> Ground:
    """Read what stands outside the heat. It changes only with facts of other heats, or when one of them ends.

    What was worked out for the ground `known` before it is kept as far as it still holds.
    """
    over = [each for each in book.heats_of(heat.event.id) if each is not heat and each.started is not None]
    states = [_settled(each, clock_of(each)) for each in over if each.over(clock_of(each))]
    past = _earlier(book, heat, clock_of)
    key = (*((each.event.id, book.revisions[each.event.id]) for each in past), *(each.heat.id for each in past))
    same = known is not None and known.key == key
    ground = Ground(
        others=tuple(states),
        earlier=known.earlier if known is not None and same else tuple(_settled(each, clock_of(each)) for each in past),
        key=key,
        before={
            division: division_before(book, division, heat.event.id, clock_of=clock_of)
            for division in _divisions(book.competition, heat)
        },
        to_beat=_to_beat(book, heat, states, clock_of),
        worth=_worth(book, heat, clock_of),
    )
    if known is not None and same and "history" in vars(known):
        vars(ground)["history"] = known.history
    return ground


def _earlier(book: CompetitionBook, heat: HeatBook, clock_of: ClockOf) -> list[HeatBook]:
    """The heats of earlier events that are over."""
    events = list(book.competition.events)
    earlier = events[: events.index(heat.event.id)]
    raced = [each for each in book.heats.values() if each.event.id in earlier and each.started is not None]
    return [each for each in raced if each.over(clock_of(each))]


def see(book: CompetitionBook, heat: HeatBook, ground: Ground, *, clock_of: ClockOf) -> Sight:
    """Look at a heat now."""
    clock_ms, rows = clock_of(heat), event_rows(book, heat, clock_of=clock_of)
    return Sight(
        state=_settled(heat, clock_ms),
        clock_ms=clock_ms,
        in_event=lanes_in_event(rows, heat),
        rows=rows,
        ground=ground,
    )


def listen(competition: Competition, desk: CueDesk, sight: Sight, outlook: Forecast | None = None) -> CueDesk:
    """Let the cue desk take what was seen, and when the lanes are forecast to finish."""
    return cues(desk, _observation(competition, sight, outlook))


def make_call(
    competition: Competition, sight: Sight, outlook: Forecast | None, *, desk: CueDesk, wording: Wording
) -> Frame:
    """Give the whole call: forecast and what is needed included."""
    ground = sight.ground
    stakes = heat_stakes(competition, sight.state, before=ground.before, rows=sight.rows)
    return call_frame(
        competition,
        sight.state,
        replace(_notes(sight, desk, wording), stakes=stakes, outlook=outlook),
    )


def make_quick_call(competition: Competition, sight: Sight, *, desk: CueDesk, wording: Wording) -> Frame:
    """Give the call without forecast and without what is needed: for the moment until those are there."""
    return call_frame(competition, sight.state, _notes(sight, desk, wording))


def wants_outlook(sight: Sight) -> bool:
    """Tell whether cues look at the forecast now, watched or not."""
    return looks_at_cap(sight.state) and sight.clock_ms < sight.state.event.workout.time_cap_ms


def _observation(competition: Competition, sight: Sight, outlook: Forecast | None) -> Observation:
    state = replace(sight.state, clock_ms=sight.clock_ms)
    expected = {} if outlook is None else finishes(outlook)
    return observed(competition, state, before=sight.ground.before, rows=sight.rows, expected_ms=expected)


def _notes(sight: Sight, desk: CueDesk, wording: Wording) -> CallNotes:
    held = {number for number, lane in sight.state.lanes.items() if lane.conduct.held}
    alive = [cue for cue in desk.current if cue.until_ms > sight.clock_ms and not held & set(cue.lanes)]
    return CallNotes(
        in_event=sight.in_event,
        to_beat=sight.ground.to_beat,
        worth=sight.ground.worth,
        cues=[Spoken(cue=cue, line=say(cue, wording)) for cue in alive],
    )


def look_ahead(competition: Competition, sight: Sight) -> Forecast | None:
    """Give the forecast; None before the start, when nothing is known yet, and for what has no model."""
    state, ground = sight.state, sight.ground
    if state.started is None or not is_modelled(state.event) or not state.lanes:
        return None
    overall = _overall(competition, sight)
    scene = event_scene(
        competition,
        state,
        others=ground.others,
        overall=overall,
        learned=ground.learned,
        history=ground.history,
    )
    return forecast(scene, seed=SEED)


def _overall(competition: Competition, sight: Sight) -> dict[str, Overall]:
    """What places make of the overall standing, by division; of the points alone where that is not worked out."""
    found, event = {}, sight.state.event
    for division, before in sight.ground.before.items():
        asked = part_races(competition, event, before, sight.rows[division])
        races = [replace(to_come(race), settled=()) for race in asked]
        if not races[0].ranked:
            continue
        try:
            found[division] = points_of(*races) if event.parts and event.workout.minimum_reps else overall_of(*races)
        except NotWorkedOut:
            found[division] = points_of(*races)
    return found


def _settled(heat: HeatBook, clock_ms: int) -> HeatState:
    return heat.state(min(clock_ms, heat.until_ms))


def _to_beat(book: CompetitionBook, heat: HeatBook, others: list[HeatState], clock_of: ClockOf) -> dict[str, ToBeat]:
    part = heat.event.scored_parts()[0]
    states = {state.heat.id: state for state in others}
    found = {}
    for division in _divisions(book.competition, heat):
        rows = event_table(book, heat.event, part, division, clock_of=clock_of)
        best = best_result([row for row in rows if row.heat in states], before_heat=heat.heat.id)
        state = None if best is None else states[best.heat]
        if best is not None and state is not None and not state.lanes[best.lane].conduct.held:
            found[division] = ToBeat(row=best, path=lane_path(state, state.lanes[best.lane]))
    return found


def _worth(book: CompetitionBook, heat: HeatBook, clock_of: ClockOf) -> dict[str, tuple[Fraction, ...]]:
    """What each place is worth, by division; of an event with several scores, the first."""
    competition = book.competition
    table = competition.points[heat.event.scored_parts()[0].points]
    sizes = {
        each: field_size_in(book, heat.event.id, each, clock_of=clock_of) for each in _divisions(competition, heat)
    }
    return {division: worths(table, size) for division, size in sizes.items()}


def _divisions(competition: Competition, heat: HeatBook) -> list[str]:
    return list(dict.fromkeys(competition.entry_on(heat.heat, lane).division for lane in heat.heat.lanes))
