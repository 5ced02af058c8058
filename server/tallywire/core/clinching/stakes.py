"""What a heat is worth in the overall standing: who swings where as it stands, and what each entry needs.

The answers behind it (`answers.py`) are exact or not given: `Stakes.unknown` says why. They are asked for again only
when a result comes in, because they take longer than a frame may.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import takewhile

from tallywire.core.clinching import (
    NO_PLACE,
    Contender,
    Need,
    NotWorkedOut,
    Race,
    Swing,
    event_swings,
    leads_for_certain,
    levels_of,
    margin,
    needs,
    never_rises,
    race_scores,
)
from tallywire.core.clinching.before import Before
from tallywire.core.fold.heat import HeatState
from tallywire.core.formats.base import Status
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Competition, Event, Measure, Part
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.places import places
from tallywire.core.ranking.points import TiePolicy
from tallywire.core.ranking.standing import Scored
from tallywire.core.standings.event_table import EventRow

RIVALS = 2
"""An entry is measured against so many of those who stood best before the event."""
known_needs = lru_cache(maxsize=64)(needs)
_certain = lru_cache(maxsize=64)(leads_for_certain)

PartRows = Sequence[Sequence[EventRow]]
"""The table of every scored part of an event, of one division over all heats."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """By how many places an entry must beat a rival to stand ahead of it; negative: by so many it may be beaten."""

    rival: str
    places: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """What one entry can still come to overall, and whom it must beat. A rival no margin is enough for is left out.

    `cut` is what it can come to where the cut looks, None where that is not worked out or no cut follows.
    """

    need: Need
    beats: tuple[Beat, ...]
    cut: Need | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """One division. `swings` are as it stands, best overall first; `early` says that live places say little yet.

    `prospects` hold those on the floor; they are empty where `unknown` (a code of `NotWorkedOut`) says why. `clinched`
    leads overall after this event whatever happens, a withdrawal of its own included.
    """

    swings: tuple[Swing, ...]
    early: bool
    prospects: Mapping[str, Prospect] = field(default_factory=dict)
    clinched: str | None = None
    unknown: str | None = None


def heat_stakes(
    competition: Competition,
    state: HeatState,
    *,
    before: Mapping[str, Before],
    rows: Mapping[str, PartRows],
) -> dict[str, Stakes]:
    """Give the stakes of each division on the floor. `before` and `rows` go by division.

    A division that a cut has left empty has none: its lanes race as guests.
    """
    divisions = dict.fromkeys(lane.entry.division for lane in state.lanes.values())
    return {each: _stakes(competition, state, each, before[each], rows[each]) for each in divisions}


def _stakes(competition: Competition, state: HeatState, division: str, before: Before, rows: PartRows) -> Stakes:
    early = not says_something(state)
    if not before.contenders:
        return Stakes(swings=(), early=early)
    swings = tuple(standing_swings(competition, state.event, before, rows))
    floor = tuple(lane.entry.id for lane in state.lanes.values() if lane.entry.division == division)
    try:
        race = event_race(competition, state, before, rows)
        prospects = _prospects(race, floor, competition.cut_after(state.event.id, division), before.gone)
        return Stakes(swings=swings, early=early, prospects=prospects, clinched=clinched(race))
    except NotWorkedOut as reason:
        return Stakes(swings=swings, early=early, unknown=reason.code)


def answerable(competition: Competition, event: Event) -> bool:
    """Tell whether what is needed in an event can be said at all under the rules there are.

    An event with several scores is answered only while one of them is open: that is not promised.
    """
    uneven = competition.standing_rules.drop_worst > 0 or event.workout.minimum_reps > 0
    if event.parts or (uneven and event.ties is TiePolicy.MEAN):
        return False
    sizes = {competition.field_size(event.id, division) for division in competition.divisions} - {0}
    return all(never_rises(_empty_race(competition, event, size)) for size in sizes)


def _empty_race(competition: Competition, event: Event, size: int) -> Race:
    field = tuple(Contender(entry=str(number)) for number in range(size))
    return Race(contenders=field, table=competition.points[event.points], rules=competition.standing_rules)


def says_something(state: HeatState) -> bool:
    """Tell whether half the work or half the time is gone: before that, live places say little."""
    total = state.plan.total_done
    most = max((lane.tally.done for lane in state.lanes.values()), default=0)
    return 2 * state.clock_ms >= state.event.workout.time_cap_ms or (total is not None and 2 * most >= total)


def standing_swings(competition: Competition, event: Event, before: Before, rows: PartRows) -> list[Swing]:
    """Give the overall standing before the event and as it stands; without `rows` nothing has happened yet."""
    races = part_races(competition, event, before, rows)
    scores = [_scores_now(race, table) for race, (_, table) in zip(races, _parts(event, rows), strict=True)]
    first = _part_race(competition, event, event.scored_parts()[0], before, ())
    return list(_known_swings(first.contenders, first, tuple(tuple(part.items()) for part in scores if part)))


@lru_cache(maxsize=32)
def _known_swings(
    _contenders: tuple[Contender, ...], race: Race, scores: tuple[tuple[tuple[str, Scored], ...], ...]
) -> tuple[Swing, ...]:
    return tuple(event_swings(race, [dict(part) for part in scores]))


def event_race(competition: Competition, state: HeatState, before: Before, rows: PartRows) -> Race:
    """Give the one score of the event that is open, results that can no longer change settled.

    The event's scores that are complete count as before; when all are, the last is the race. Raises NotWorkedOut while
    several are open.
    """
    races = [to_come(race) for race in part_races(competition, state.event, before, rows)]
    parts = [(part, table, race) for (part, table), race in zip(_parts(state.event, rows), races, strict=True)]
    open_parts = [each for each in parts if each[2].open]
    if len(open_parts) > 1:
        raise NotWorkedOut("several_scores", f"found {len(open_parts)} open scores of the event, expected one")
    part, table, race = open_parts[0] if open_parts else parts[-1]
    closed = [race_scores(each, each.settled) for _, _, each in parts if each is not race]
    contenders = tuple(_with(each, closed, race) for each in race.contenders)
    return replace(race, contenders=contenders, passed=_passed(state, part, table, race))


def part_races(competition: Competition, event: Event, before: Before, rows: PartRows) -> list[Race]:
    """Give every score of the event as it stands."""
    return [_part_race(competition, event, part, before, table) for part, table in _parts(event, rows)]


def to_come(race: Race) -> Race:
    """Give a race as it may come: those still at work may yet do the least work.

    Where those who share a place earn the mean, less than that is not worked out, so it stays as it stands.
    """
    if race.ties is TiePolicy.MEAN:
        return race
    return replace(race, unpaid=tuple(entry for entry in race.unpaid if entry not in race.open))


def clinched(race: Race) -> str | None:
    """Name who leads overall after the event whatever happens now: on any place it can have, and without a result."""
    for entry in _certain(race):
        if entry not in race.open or entry in _certain(_without(race, entry)):
            return entry
    return None


def _without(race: Race, entry: str) -> Race:
    return replace(race, out=(*race.out, entry))


def _parts(event: Event, rows: PartRows) -> list[tuple[Part, Sequence[EventRow]]]:
    return list(zip(event.scored_parts(), rows or [()] * len(event.scored_parts()), strict=True))


def _part_race(competition: Competition, event: Event, part: Part, before: Before, table: Sequence[EventRow]) -> Race:
    """A settled result is settled; those who did not come, or have left, are out; everybody else is open."""
    known = {each.entry for each in before.contenders}
    own = [row for row in table if row.entry.id in known]
    placed = [row for row in own if row.outcome.status.has_result]
    absent = _absent(before, own)
    return Race(
        contenders=before.contenders,
        table=competition.points[part.points],
        ties=event.ties,
        rules=competition.standing_rules,
        settled=levels_of(places({row.entry.id: row.outcome.key for row in placed if row.settled})),
        out=(*(row.entry.id for row in own if not row.outcome.status.has_result), *absent),
        absent=absent,
        unpaid=tuple(row.entry.id for row in placed if not row.earns),
        field=before.field,
    )


def _absent(before: Before, own: Sequence[EventRow]) -> tuple[str, ...]:
    """Those still in who have left, or stand on no lane, and have not raced all the same."""
    never = (before.gone | before.unlisted) - {row.entry.id for row in own}
    return tuple(each.entry for each in before.contenders if each.entry in never)


def _scores_now(race: Race, table: Sequence[EventRow]) -> dict[str, Scored]:
    """As it stands, those who have begun. Nothing before anybody has."""
    begun = [row for row in table if row.outcome.status.has_result and (row.settled or row.outcome.score)]
    known = {each.entry for each in race.contenders}
    keys = {row.entry.id: row.outcome.key for row in begun if row.entry.id in known}
    return race_scores(race, levels_of(places(keys))) if keys else {}


def _with(each: Contender, closed: Sequence[Mapping[str, Scored]], race: Race) -> Contender:
    """Add the event's scores that are complete to what the contender had before."""
    nothing = Scored(place=NO_PLACE, points=race.nothing, has_result=False)
    own = [part.get(each.entry, nothing) for part in closed]
    points = sum((score.points for score in own), each.brought + sum(score.points for score in each.scores()))
    return replace(each, points=points, past=(*each.scores(), *own)) if own else each


def _passed(state: HeatState, part: Part, table: Sequence[EventRow], race: Race) -> int:
    """In a race for time nobody still at work can better a time that the clock has passed."""
    timed = format_of(state.event.workout).counting.fastest_wins
    on_the_floor = {lane.entry.id for lane in state.lanes.values()}
    if part.measure is Measure.REPS_AT or (part.measure is Measure.RESULT and not timed) or {*race.open} - on_the_floor:
        return 0
    times = {row.entry.id: row.outcome.result_ms for row in table if row.outcome.status is Status.FINISHED}
    home = {entry for entry, time_ms in times.items() if time_ms is not None and time_ms <= state.clock_ms}
    return sum(1 for _ in takewhile(home.issuperset, race.settled))


@lru_cache(maxsize=32)
def _prospects(race: Race, entries: tuple[str, ...], cut: Cut | None, gone: frozenset[str]) -> dict[str, Prospect]:
    found, ahead_of_cut = known_needs(race), _cut_needs(race, cut, gone)
    best = [swing.entry for swing in event_swings(race, [])]
    prospects = {}
    for entry in (each for each in entries if each in found):
        rivals = [each for each in best if each != entry and each not in race.out][:RIVALS]
        beats = () if entry in race.out else _beats(race, entry, rivals)
        prospects[entry] = Prospect(need=found[entry], beats=beats, cut=ahead_of_cut.get(entry))
    return prospects


def _cut_needs(race: Race, cut: Cut | None, gone: frozenset[str]) -> Mapping[str, Need]:
    """The places that a cut looks at: without those who have left, by points alone where ties all go on.

    Where nobody of those level across the line goes on, a place does not say it: nothing is given.
    """
    if cut is None or cut.ties is CutTies.NONE:
        return {}
    if not gone and cut.ties is CutTies.BY_TIE_RULES:
        return known_needs(race)
    stay = replace(
        race,
        contenders=tuple(each for each in race.contenders if each.entry not in gone),
        out=tuple(each for each in race.out if each not in gone),
        absent=tuple(each for each in race.absent if each not in gone),
        field=race.size,
    )
    if cut.ties is CutTies.KEEP_ALL:
        stay = replace(stay, rules=replace(stay.rules, ties=()))
    return known_needs(stay)


def _beats(race: Race, entry: str, rivals: Sequence[str]) -> tuple[Beat, ...]:
    margins = {rival: margin(race, entry, rival) for rival in rivals}
    return tuple(Beat(rival=rival, places=places) for rival, places in margins.items() if places is not None)
