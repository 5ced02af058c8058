"""What a heat is worth in the overall standing: who swings where as it stands, and what each entry needs.

The answers behind it (`core.needed`) hold where the most points win, every event counts and an event has one score;
`answerable` says so. They are asked for again only when a result comes in, because they take longer than a frame may.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from tallywire.core.book import ClockOf, CompetitionBook
from tallywire.core.competition import Competition, Event
from tallywire.core.cues.overall import event_race, known_needs, known_swings, result_levels, says_something
from tallywire.core.event_table import event_table
from tallywire.core.fold import HeatState, LaneState
from tallywire.core.needed import Contender, Need, Race, Swing, margin
from tallywire.core.points import TiePolicy
from tallywire.core.standings import StandingRules

RIVALS = 2
"""An entry is measured against so many of those who stood best before the event."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """By how many places an entry must beat a rival to stand ahead of it; negative: by so many it may be beaten."""

    rival: str
    places: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """What one entry can still come to overall, and whom it must beat. A rival no margin is enough for is left out."""

    need: Need
    beats: tuple[Beat, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """One division. `swings` are as it stands, best overall first; `early` says that live places say little yet."""

    swings: tuple[Swing, ...]
    prospects: Mapping[str, Prospect]
    early: bool


def answerable(competition: Competition, event: Event) -> bool:
    """Tell whether the exact answers hold under the rules of this competition for this event."""
    plain = not event.parts and event.ties is TiePolicy.SHARE_BETTER and event.workout.minimum_reps == 0
    if not plain or competition.standing_rules != StandingRules():
        return False
    fields = {entry.division for entry in competition.entries.values()}
    table = competition.points[event.points]
    worth = [[table.points(n, size) for n in range(1, size + 1)] for size in _field_sizes(competition, event, fields)]
    return all(values == sorted(values, reverse=True) and min(values) >= 0 for values in worth)


def contenders_before(book: CompetitionBook, event: Event, *, clock_of: ClockOf) -> dict[str, Contender]:
    """Give everyone's points and places before an event, deductions taken off."""
    competition = book.competition
    points = {entry.id: entry.points_before - _deducted(book, entry.id) for entry in competition.entries.values()}
    places: dict[str, tuple[int, ...]] = dict.fromkeys(points, ())
    earlier = list(competition.events)[: list(competition.events).index(event.id)]
    for each in (competition.events[name] for name in earlier):
        for part in each.scored_parts():
            for division in competition.divisions:
                for row in event_table(book, each, part, division, clock_of=clock_of):
                    points[row.entry.id] += row.points  # type: ignore[assignment]
                    if row.outcome.status.has_result:
                        places[row.entry.id] += (row.place,)
    return {entry: Contender(entry=entry, points=points[entry], places=places[entry]) for entry in points}


def heat_stakes(
    competition: Competition, state: HeatState, *, others: Sequence[HeatState], before: Mapping[str, Contender]
) -> dict[str, Stakes]:
    """Give the stakes of each division on the floor, if they are `answerable`.

    `others` are the event's heats that are over, `before` is `contenders_before`.
    """
    lanes = [lane for each in (*others, state) for lane in each.lanes.values()]
    divisions = dict.fromkeys(lane.entry.division for lane in state.lanes.values())
    return {
        each: _stakes(competition, state, each, [lane for lane in lanes if lane.entry.division == each], before)
        for each in divisions
    }


def _stakes(
    competition: Competition,
    state: HeatState,
    division: str,
    lanes: Sequence[LaneState],
    before: Mapping[str, Contender],
) -> Stakes:
    race = event_race(competition, state, division, lanes, before)
    levels = result_levels([lane for lane in lanes if lane.tally.done])
    on_floor = tuple(lane.entry.id for lane in state.lanes.values() if lane.entry.division == division)
    return Stakes(
        swings=tuple(known_swings(race, levels)),
        prospects=_prospects(race, on_floor),
        early=not says_something(state),
    )


@lru_cache(maxsize=32)
def _prospects(race: Race, entries: tuple[str, ...]) -> dict[str, Prospect]:
    needs = known_needs(race)
    best = [swing.entry for swing in sorted(known_swings(race, ()), key=lambda swing: swing.place_before)]
    found = {}
    for entry in entries:
        rivals = [each for each in best if each != entry and each not in race.out][:RIVALS]
        found[entry] = Prospect(need=needs[entry], beats=() if entry in race.out else _beats(race, entry, rivals))
    return found


def _beats(race: Race, entry: str, rivals: Sequence[str]) -> tuple[Beat, ...]:
    margins = {rival: margin(race, entry, rival) for rival in rivals}
    return tuple(Beat(rival=rival, places=places) for rival, places in margins.items() if places is not None)


def _deducted(book: CompetitionBook, entry: str) -> int:
    lanes = [(heat, lane) for heat in book.heats.values() for lane, each in heat.heat.lanes.items() if each == entry]
    return sum(heat.conduct(lane).deducted_points for heat, lane in lanes)


def _field_sizes(competition: Competition, event: Event, divisions: set[str]) -> set[int]:
    heats = [heat for heat in competition.heats.values() if heat.event == event.id]
    entries = [competition.entries[entry] for heat in heats for entry in heat.lanes.values()]
    return {sum(entry.division == division for entry in entries) for division in divisions} - {0}
