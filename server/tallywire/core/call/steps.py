"""How a snapshot of a heat becomes the call, in steps that can run in different threads.

`see` reads a snapshot and is quick. `listen` and `make_call` (`whole.py`) work on what was seen, and may run in another
thread or process while more facts come in. The same facts at the same clock give the same call.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

from tallywire.core.clinching.before import Before, division_before
from tallywire.core.clinching.event_race import PartRows
from tallywire.core.cues import CueDesk, Wording, say
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.gaps.path import lane_path
from tallywire.core.model.competition import Competition
from tallywire.core.standings.change import Changes, changes_of
from tallywire.core.standings.event_table import best_result, event_table
from tallywire.core.standings.in_event import InEvent, event_rows, lanes_in_event
from tallywire.core.standings.worth import worth_of_places
from tallywire.core.views.call import CallNotes, Spoken, ToBeat, call_frame
from tallywire.core.views.heat import Frame

if TYPE_CHECKING:
    from tallywire.core.forecast.model import History, Taught


class Past:
    """The heats of earlier events that are over."""

    def __init__(self, states: Sequence[HeatState]) -> None:
        self.states = tuple(states)

    @cached_property
    def history(self) -> dict[str, History]:
        """What they say of each entry. It takes a while, so it is worked out only when it is asked for."""
        # Who only looks, as the server does, does not wait for what works forecasts out.
        from tallywire.core.forecast.of_event import SEED
        from tallywire.core.forecast.past import histories

        return histories(self.states, seed=SEED)


class Others:
    """The event's other heats that are over."""

    def __init__(self, states: Sequence[HeatState]) -> None:
        self.states = tuple(states)

    @cached_property
    def learned(self) -> Taught | None:
        """What they teach about the workout. It takes a while, so it is worked out only when it is asked for."""
        from tallywire.core.forecast.of_event import lesson

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
        worth=worth_of_places(snapshot, heat),
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


def make_quick_call(competition: Competition, sight: Sight, *, desk: CueDesk, wording: Wording) -> Frame:
    """Give the call without the forecast and what is needed, for the moment until those are worked out."""
    return call_frame(competition, sight.state, notes_of(sight, desk, wording))


def notes_of(sight: Sight, desk: CueDesk, wording: Wording) -> CallNotes:
    """Give what was seen as the call shows it."""
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
