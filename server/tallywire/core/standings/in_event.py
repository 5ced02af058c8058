"""What the event over all its heats adds to the lanes of one heat."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Event
from tallywire.core.ranking.places import passing_over
from tallywire.core.ranking.points import plain
from tallywire.core.ranking.standing import no_result_points
from tallywire.core.standings.event_table import EventRow, best_result, event_table
from tallywire.core.standings.judged import Judged, in_field, judged
from tallywire.core.standings.overall import field_before
from tallywire.core.standings.worth import places_of, shared_worth


@dataclass(frozen=True, slots=True, kw_only=True)
class InEvent:
    """What the event, over all its heats, adds to a lane of one heat. `to_beat` is the best of the other heats."""

    place: int
    shared: bool
    of: int
    points: float
    to_beat: str | None


def in_event(snapshot: Snapshot, heat: HeatSnapshot) -> Mapping[int, InEvent]:
    """Give each lane's place in the event, what it is worth, and the result of the other heats to beat.

    In an event with several scored parts it is the first of them. Empty before the heat has started.
    """
    fields = {division: field_before(snapshot, heat.event.id, division) for division in heat.divisions}
    heats = snapshot.heats_of(heat.event.id)
    key = ("in event", heat.heat.id)
    return snapshot.kept(key, heats, lambda: _in_event(snapshot, heat, fields), also=[*fields.values()])


def _in_event(
    snapshot: Snapshot, heat: HeatSnapshot, fields: Mapping[str, frozenset[str] | None]
) -> dict[int, InEvent]:
    found: dict[int, InEvent] = {}
    for division, field in fields.items():
        found |= _lanes(snapshot, heat, division, field)
    return found


def _lanes(snapshot: Snapshot, heat: HeatSnapshot, division: str, field: frozenset[str] | None) -> dict[int, InEvent]:
    """The same as from the event's table, but for this heat's lanes alone, because every frame asks for it."""
    part = heat.event.scored_parts()[0]
    everyone = judged(snapshot, heat.event, part, division)
    raced = in_field(everyone, field)
    placed = [each for each in raced if each.outcome.status.has_result]
    keys = sorted(each.outcome.key for each in placed)
    best = _to_beat(placed, heat.heat.id)
    own = [each for each in raced if each.heat == heat.heat.id]
    vacant = part.vacant_in(division)
    taken = {each.lane: _given(_place(keys, each, len(raced) - len(keys)), vacant) for each in own}
    size = places_of(snapshot, heat.event, part, division, raced)
    paid = _paid(own, taken, placed)
    made_of = _MadeOf(taken, paid, len(raced), size, best)
    # Most taps move nobody: then the lanes are those of the tap before.
    kept: dict[str, tuple[_MadeOf, dict[int, InEvent]]] = snapshot.kept(("lanes", heat.heat.id, division), (), dict)
    last = kept.get("last")
    if last is None or last[0] != made_of:
        last = kept["last"] = (made_of, _made(made_of, _points(snapshot, heat.event, own, paid, size, vacant)))
    return last[1]


class _MadeOf(NamedTuple):
    """All that the rows of one heat's lanes are made of."""

    taken: Mapping[int, tuple[int, int]]
    paid: Mapping[int, tuple[int, int]]
    of: int
    size: int
    best: str | None


def _made(of: _MadeOf, points: Mapping[int, Fraction | int]) -> dict[int, InEvent]:
    return {
        lane: InEvent(place=place, shared=sharing > 1, of=of.of, points=plain(points[lane]), to_beat=of.best)
        for lane, (place, sharing) in of.taken.items()
    }


def _to_beat(placed: Sequence[Judged], heat: str) -> str | None:
    """The best settled result of the other heats."""
    others = [each for each in placed if each.settled and each.heat != heat]
    best = min(others, key=lambda each: (each.outcome.key, each.lane), default=None)
    return None if best is None else best.outcome.result


def _paid(
    own: Sequence[Judged], taken: Mapping[int, tuple[int, int]], placed: Sequence[Judged]
) -> dict[int, tuple[int, int]]:
    """The place of each lane that earns, and how many of those who share it earn too."""
    if all(each.earns for each in placed):
        return {each.lane: taken[each.lane] for each in own if each.earns}
    earning = sorted(each.outcome.key for each in placed if each.earns)
    return {each.lane: (taken[each.lane][0], _place(earning, each, 0)[1]) for each in own if each.earns}


def _points(  # noqa: PLR0913, PLR0917
    snapshot: Snapshot,
    event: Event,
    own: Sequence[Judged],
    paid: Mapping[int, tuple[int, int]],
    field: int,
    vacant: tuple[int, ...],
) -> dict[int, Fraction | int]:
    part, nothing = event.scored_parts()[0], no_result_points(snapshot.competition.standing_rules.order, field)
    return {
        each.lane: shared_worth(snapshot, event, part, paid[each.lane], field=field, vacant=vacant)
        if each.earns
        else nothing
        for each in own
    }


def _given(taken: tuple[int, int], vacant: tuple[int, ...]) -> tuple[int, int]:
    return passing_over(taken[0], vacant), taken[1]


def _place(keys: list[tuple[int, ...]], each: Judged, lost: int) -> tuple[int, int]:
    """A place, and how many share it; `lost` are without a result."""
    if not each.outcome.status.has_result:
        return len(keys) + 1, lost
    first = bisect_left(keys, each.outcome.key)
    return first + 1, bisect_right(keys, each.outcome.key) - first


def event_rows(snapshot: Snapshot, heat: HeatSnapshot) -> dict[str, tuple[tuple[EventRow, ...], ...]]:
    """Give the event's table of every scored part, for each division on the lanes of a heat."""
    return {
        division: tuple(tuple(event_table(snapshot, heat.event, part, division)) for part in heat.event.scored_parts())
        for division in heat.divisions
    }


def lanes_in_event(tables: Mapping[str, Sequence[Sequence[EventRow]]], heat: HeatSnapshot) -> dict[int, InEvent]:
    """Give the lanes of one heat from the event's tables."""
    found: dict[int, InEvent] = {}
    for rows in (parts[0] for parts in tables.values()):
        best = best_result(rows, before_heat=heat.heat.id)
        found |= {
            row.lane: InEvent(
                place=row.place,
                shared=row.shared,
                of=len(rows),
                points=plain(row.points),
                to_beat=None if best is None else best.outcome.result,
            )
            for row in rows
            if row.heat == heat.heat.id
        }
    return found
