"""The table of an event: every entry of a division over all its heats, while later heats still race.

The place in the event, the place in the heat and the time to beat are three different things: the first counts
everyone of the division who has been on the floor, the second those on the floor together, and the third is the best
result of the heats before.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.formats.base import Outcome
from tallywire.core.model.competition import Entry, Event, Part
from tallywire.core.ranking.places import event_places
from tallywire.core.ranking.standing import no_result_points
from tallywire.core.standings.judged import Judged, in_field, judged
from tallywire.core.standings.overall import field_before
from tallywire.core.standings.worth import places_of, shared_worth


@dataclass(frozen=True, slots=True, kw_only=True)
class EventRow:
    """One entry in a scored part of an event. `settled` is False while the heat still races, `called` while the judge's
    call may still move its time.

    `place` counts everyone of the division in the event so far, `heat_place` those on the floor together, a guest after
    a cut among them. `earns` is
    False without a result, or with less than the least work the event asks for.
    """

    entry: Entry
    heat: str
    lane: int
    outcome: Outcome
    place: int
    shared: bool
    heat_place: int
    points: Fraction
    earns: bool
    no_reps: int
    settled: bool
    called: bool


Where = tuple[str, int]
"""A heat and a lane."""


def event_table(snapshot: Snapshot, event: Event, part: Part, division: str) -> Sequence[EventRow]:
    """Rank a division in one scored part over all heats that have started, best first.

    Entries whose heat has not started are not in the table, nor are those who did not survive a cut before the event.
    """
    field, heats = field_before(snapshot, event.id, division), snapshot.heats_of(event.id)
    key = ("table", event.id, part.id, division)
    return snapshot.kept(key, heats, lambda: _table(snapshot, event, part, division, field), also=(field,))


def _table(
    snapshot: Snapshot, event: Event, part: Part, division: str, field: frozenset[str] | None
) -> Sequence[EventRow]:
    everyone = judged(snapshot, event, part, division)
    raced = in_field(everyone, field)
    found = {(each.heat, each.lane): each for each in raced}
    vacant = part.vacant_in(division)
    place_of = _places(found, vacant)
    size = places_of(snapshot, event, part, division, raced)
    nothing = no_result_points(snapshot.competition.standing_rules.order, size)
    paid = Counter(place_of[where] for where, each in found.items() if each.earns)
    worth = {taken[0]: shared_worth(snapshot, event, part, taken, field=size, vacant=vacant) for taken in paid.items()}
    floor = {(each.heat, each.lane): each for each in everyone}
    heats = {heat: _places(_of_heat(floor, heat), ()) for heat in dict.fromkeys(heat for heat, _ in found)}
    sharing = Counter(place_of.values())
    rows = [
        EventRow(
            entry=each.entry,
            heat=each.heat,
            lane=each.lane,
            outcome=each.outcome,
            place=place_of[where],
            shared=sharing[place_of[where]] > 1,
            heat_place=heats[each.heat][where],
            points=worth[place_of[where]] if each.earns else Fraction(nothing),
            earns=each.earns,
            no_reps=snapshot.heats[each.heat].tally(each.lane).no_reps,
            settled=each.settled,
            called=each.called,
        )
        for where, each in found.items()
    ]
    return sorted(rows, key=lambda row: (row.place, row.lane))


def _of_heat(found: Mapping[Where, Judged], heat: str) -> dict[Where, Judged]:
    return {where: each for where, each in found.items() if where[0] == heat}


def _places(found: Mapping[Where, Judged], vacant: Collection[int]) -> dict[Where, int]:
    lost = [where for where, each in found.items() if not each.outcome.status.has_result]
    return event_places([{where: each.outcome.key for where, each in found.items()}], no_result=lost, vacant=vacant)


def best_result(rows: Iterable[EventRow], *, before_heat: str) -> EventRow | None:
    """Give the row to beat: the best settled one of the other heats, or None."""
    settled = [row for row in rows if row.settled and row.heat != before_heat and row.outcome.status.has_result]
    return min(settled, key=lambda row: row.place, default=None)
