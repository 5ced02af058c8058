"""The overall standing as cues see it: who leads as it stands, and who has clinched, from a heat in progress."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import takewhile

from tallywire.core.competition import Competition
from tallywire.core.cues.observation import OverallNote
from tallywire.core.fold import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.needed import Contender, Race, Swing, levels_of, needs, swings
from tallywire.core.ranking import places

known_needs = lru_cache(maxsize=32)(needs)
known_swings = lru_cache(maxsize=32)(swings)
"""The answers change when a result comes in or a place changes; they are asked for every second."""
_FINAL = (Status.FINISHED, Status.CAPPED, Status.TIMED)


def overall_notes(
    competition: Competition,
    state: HeatState,
    *,
    others: Sequence[HeatState] = (),
    before: Mapping[str, Contender] | None = None,
) -> tuple[OverallNote, ...]:
    """Give a note for each division on the floor. `others` are the event's heats that are over.

    `before` holds the standing before the event; without it the points in the competition file count. Until the
    leader has half the work done, or half the time is gone, live places say little: the standing before counts.
    """
    lanes = [lane for each in (*others, state) for lane in each.lanes.values()]
    found = []
    for division in dict.fromkeys(lane.entry.division for lane in state.lanes.values()):
        own = [lane for lane in lanes if lane.entry.division == division]
        race = event_race(competition, state, division, own, before or {})
        levels = result_levels([lane for lane in own if lane.tally.done]) if says_something(state) else ()
        clinched = next((entry for entry, need in known_needs(race).items() if need.clinched), None)
        found.append(_note(division, known_swings(race, levels), clinched))
    return tuple(found)


def event_race(
    competition: Competition,
    state: HeatState,
    division: str,
    lanes: Sequence[LaneState],
    before: Mapping[str, Contender],
) -> Race:
    """Results that can no longer change are settled; everybody else in the event may still end anywhere."""
    heats = [heat for heat in competition.heats.values() if heat.event == state.event.id]
    entries = [competition.entries[entry] for heat in heats for entry in heat.lanes.values()]
    contenders = {
        entry.id: before.get(entry.id) or Contender(entry=entry.id, points=entry.points_before)
        for entry in entries
        if entry.division == division
    }
    final = [lane for lane in lanes if lane.status in _FINAL]
    settled, out = result_levels(final), tuple(lane.entry.id for lane in lanes if not lane.status.has_result)
    on_the_floor = {lane.entry.id for lane in state.lanes.values()}
    all_here = contenders.keys() - {lane.entry.id for lane in final} - {*out} <= on_the_floor
    home = {lane.entry.id for lane in final if _is_on_the_clock(state, lane)} if all_here else set()
    return Race(
        contenders=tuple(contenders.values()),
        table=competition.points[state.event.points],
        settled=settled,
        passed=sum(1 for _ in takewhile(home.issuperset, settled)),
        out=out,
    )


def _is_on_the_clock(state: HeatState, lane: LaneState) -> bool:
    """In a race for time nobody still at work can better a time that the clock has passed."""
    timed = state.event.workout.format == "for_time" and lane.status is Status.FINISHED
    return timed and lane.finish_ms is not None and lane.finish_ms <= state.clock_ms


def result_levels(lanes: Sequence[LaneState]) -> tuple[tuple[str, ...], ...]:
    """Give the entries with a result by level, best first, as they stand."""
    return levels_of(places({lane.entry.id: lane.outcome.key for lane in lanes if lane.status.has_result}))


def says_something(state: HeatState) -> bool:
    """Tell whether half the work or half the time is gone: before that, live places say little."""
    total = state.plan.total_done
    most = max((lane.tally.done for lane in state.lanes.values()), default=0)
    return 2 * state.clock_ms >= state.event.workout.time_cap_ms or (total is not None and 2 * most >= total)


def _note(division: str, standing: Sequence[Swing], clinched: str | None) -> OverallNote:
    first, second = standing[0], standing[1] if len(standing) > 1 else None
    alone = second is None or second.place_after > 1
    return OverallNote(
        division=division,
        leader=first.entry if alone else None,
        second=None if second is None else second.entry,
        points=0 if second is None else round(first.points_after - second.points_after),
        clinched=clinched,
    )
