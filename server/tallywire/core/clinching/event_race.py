"""An event as a race: from its tables, which entries are settled, out or open, score by score."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import takewhile

from tallywire.core.clinching.before import Before
from tallywire.core.clinching.race import NO_PLACE, Bound, Contender, NotWorkedOut, Race, levels_of
from tallywire.core.clinching.swings import Swing, event_swings, race_scores
from tallywire.core.fold.heat import HeatState
from tallywire.core.formats.base import Status
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Competition, Event, Measure, Part
from tallywire.core.ranking.places import places
from tallywire.core.ranking.points import TiePolicy, added_up
from tallywire.core.ranking.standing import Scored
from tallywire.core.ranking.tie_rules import TieRule
from tallywire.core.standings.event_table import EventRow

PartRows = Sequence[Sequence[EventRow]]
"""The table of every scored part of an event, of one division over all heats."""


def standing_swings(competition: Competition, event: Event, before: Before, rows: PartRows) -> list[Swing]:
    """Give the overall standing before the event and as it stands. Without `rows`, nothing has happened yet."""
    races = part_races(competition, event, before, rows)
    scores = [_scores_now(race, table) for race, (_, table) in zip(races, _parts(event, rows), strict=True)]
    first = _part_race(competition, event, event.scored_parts()[0], before, ())
    return list(_known_swings(first.contenders, first, tuple(tuple(part.items()) for part in scores if part)))


@lru_cache(maxsize=32)
def _known_swings(
    _contenders: tuple[Contender, ...], race: Race, scores: tuple[tuple[tuple[str, Scored], ...], ...]
) -> tuple[Swing, ...]:
    return tuple(event_swings(race, [dict(part) for part in scores]))


def open_scores(
    competition: Competition, state: HeatState, before: Before, rows: PartRows, *, without: str | None = None
) -> tuple[Race, ...]:
    """Give the open scores of the event in their order; results that can no longer change are settled in them.

    Those that are complete count as before; when all are, the last is given. A complete one stays among them where a
    tie rule asks for the last event and an open one comes before it. `without` names an entry that is taken to have
    withdrawn, from every score. Raises NotWorkedOut while an event before is open, or where an open score has a vacant
    place.
    """
    if before.open:
        raise NotWorkedOut("earlier_event", "found an event before that is not complete, expected all of them to be")
    parts = _parts(state.event, rows)
    races = [_may_earn(race) for race in part_races(competition, state.event, before, rows)]
    asked = _asked(races)
    if any(races[n].vacant for n in asked):
        raise NotWorkedOut("vacant_place", "found a place that nobody is given, expected every place to be given")
    races = [race if without is None else _withdrawn(race, without) for race in races]
    closed = [race_scores(race, race.settled) for n, race in enumerate(races) if n not in asked]
    contenders = tuple(_with(each, closed, races[0]) for each in races[0].contenders)
    return tuple(_bounded(state, *parts[n], replace(races[n], contenders=contenders)) for n in asked)


def _asked(races: Sequence[Race]) -> list[int]:
    """The numbers of the scores that the question is about."""
    open_ones = [n for n, race in enumerate(races) if race.open] or [len(races) - 1]
    if {TieRule.LAST_EVENT, TieRule.LATEST_EVENTS}.isdisjoint(races[0].rules.ties):
        return open_ones
    return [*range(open_ones[0], len(races))]


def _withdrawn(race: Race, entry: str) -> Race:
    if entry in race.out:
        return race
    left = [tuple(each for each in level if each != entry) for level in race.settled]
    return replace(race, settled=tuple(level for level in left if level), out=(*race.out, entry))


def _may_earn(race: Race) -> Race:
    """The entries still at work, which may yet do the minimum work."""
    unpaid = tuple(entry for entry in race.unpaid if entry not in race.open) if race.unpaid else ()
    return race if unpaid == race.unpaid else replace(race, unpaid=unpaid)


def part_races(competition: Competition, event: Event, before: Before, rows: PartRows) -> list[Race]:
    """Give every score of the event as it stands."""
    return [_part_race(competition, event, part, before, table) for part, table in _parts(event, rows)]


def to_come(race: Race) -> Race:
    """Give a race as a forecast may see it end: those still at work may yet do the minimum work.

    Where those who share a place earn the mean the race stays as it is, because the draws cannot share a place's points
    among only some of those in it.
    """
    return race if race.ties is TiePolicy.MEAN else _may_earn(race)


def _parts(event: Event, rows: PartRows) -> list[tuple[Part, Sequence[EventRow]]]:
    return list(zip(event.scored_parts(), rows or [()] * len(event.scored_parts()), strict=True))


def _part_race(competition: Competition, event: Event, part: Part, before: Before, table: Sequence[EventRow]) -> Race:
    """A called result, or one of a heat that is over, is settled; those who did not come, or have left, are out.

    Everybody else is open.
    """
    known = {each.entry for each in before.contenders}
    own = [row for row in table if row.entry.id in known]
    placed = [row for row in own if row.outcome.status.has_result]
    absent = _absent(before, own)
    return Race(
        contenders=before.contenders,
        table=competition.points[part.points],
        ties=event.ties,
        rules=competition.standing_rules,
        settled=_settled(placed),
        out=(*(row.entry.id for row in own if not row.outcome.status.has_result), *absent),
        absent=absent,
        must_count=_must_count(competition, own),
        unpaid=tuple(row.entry.id for row in placed if not row.earns),
        field=before.field,
        in_count_back=part.in_count_back,
        vacant=_vacant(competition, part, before),
    )


def _vacant(competition: Competition, part: Part, before: Before) -> tuple[int, ...]:
    divisions = {competition.entries[each.entry].division for each in before.contenders}
    return tuple(place for division in divisions for place in part.vacant_in(division))


def _settled(placed: Sequence[EventRow]) -> tuple[tuple[str, ...], ...]:
    return levels_of(places({row.entry.id: row.outcome.key for row in placed if row.settled and row.called}))


def _must_count(competition: Competition, own: Sequence[EventRow]) -> tuple[str, ...]:
    """The entries whose disqualification is never dropped."""
    kept = not competition.drop_disqualified
    return tuple(row.entry.id for row in own if kept and row.outcome.status is Status.DISQUALIFIED)


def _absent(before: Before, own: Sequence[EventRow]) -> tuple[str, ...]:
    """Those still in who have left, or stand on no lane, and have not raced all the same."""
    never = (before.gone | before.unlisted) - {row.entry.id for row in own}
    return tuple(each.entry for each in before.contenders if each.entry in never)


def _scores_now(race: Race, table: Sequence[EventRow]) -> dict[str, Scored]:
    """The scores of those who have begun, as they stand; nothing before anybody has begun."""
    begun = [row for row in table if row.outcome.status.has_result and (row.settled or row.outcome.score)]
    known = {each.entry for each in race.contenders}
    keys = {row.entry.id: row.outcome.key for row in begun if row.entry.id in known}
    return race_scores(race, levels_of(places(keys))) if keys else {}


def _with(each: Contender, closed: Sequence[Mapping[str, Scored]], race: Race) -> Contender:
    """Add the event's scores that are complete to what the contender had before."""
    if not closed:
        return each
    nothing = Scored(place=NO_PLACE, points=race.nothing, has_result=False)
    own = [part.get(each.entry, nothing) for part in closed]
    points = added_up([Fraction(each.points), *(score.points for score in own)])
    return replace(each, points=points, past=(*each.scores(), *own))


def _bounded(state: HeatState, part: Part, table: Sequence[EventRow], race: Race) -> Race:
    """Bound the open entries: in a race for time nobody still at work can better a time that the clock has passed.

    A lane that has finished and was not called cannot better its own time, because a call does not come before the work
    is complete.
    """
    if part.measure is Measure.REPS_AT:
        return race
    times = {row.entry.id: row.outcome.result_ms for row in table if row.outcome.status is Status.FINISHED}
    levels = [times.get(level[0]) for level in race.settled]
    working = _ahead(levels, state.clock_ms + 1)[0] if _is_timed(state, part, race) else 0
    bounds = {entry: _ahead(levels, times.get(entry)) if entry in times else (working, False) for entry in race.open}
    passed = min((levels for levels, _ in bounds.values()), default=working)
    plain = {*bounds.values()} <= {(passed, False)}
    return replace(race, passed=passed, bounds=() if plain else tuple(bounds.items()))


def _is_timed(state: HeatState, part: Part, race: Race) -> bool:
    """Whether all open entries are on the floor, in a race for time."""
    on_the_floor = {lane.entry.id for lane in state.lanes.values()}
    timed = part.measure is Measure.TIME_AT or format_of(state.event.workout).counting.fastest_wins
    return timed and on_the_floor.issuperset(race.open)


def _ahead(levels: Sequence[int | None], time_ms: int | None) -> Bound:
    """How many levels have a better time, and whether the next level has the same."""
    better = sum(1 for _ in takewhile(lambda each: each is not None and time_ms is not None and each < time_ms, levels))
    return better, better < len(levels) and levels[better] == time_ms
