"""What a place in an event is worth, found once for every place and number of those who share it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from fractions import Fraction

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Event, Part
from tallywire.core.ranking.places import field_with
from tallywire.core.ranking.points import award, worths
from tallywire.core.standings.judged import Judged, in_field, judged
from tallywire.core.standings.overall import field_before, field_size_in


def worth_of_places(snapshot: Snapshot, heat: HeatSnapshot) -> Mapping[str, tuple[Fraction, ...]]:
    """Give what each place in a heat's event is worth, by division, first place first; of several scores, in the first.

    Raises ValueError where the table has no value.
    """
    table = snapshot.competition.points[heat.event.scored_parts()[0].points]
    return {division: worths(table, _field(snapshot, heat.event, division)) for division in heat.divisions}


def _field(snapshot: Snapshot, event: Event, division: str) -> int:
    part = event.scored_parts()[0]
    if not part.vacant_in(division):
        return field_size_in(snapshot, event.id, division)
    field = field_before(snapshot, event.id, division)
    return places_of(snapshot, event, part, division, in_field(judged(snapshot, event, part, division), field))


def places_of(snapshot: Snapshot, event: Event, part: Part, division: str, raced: Collection[Judged]) -> int:
    """Give how many places the points are for: of all who are in the event, and at least to the last one given by now.

    `raced` are those of them who have been on the floor; only vacant places make it more than all.
    """
    size, vacant = max(field_size_in(snapshot, event.id, division), len(raced)), part.vacant_in(division)
    ranked = sum(each.outcome.status.has_result for each in raced) if vacant else 0
    return field_with(size, ranked=ranked, vacant=vacant)


def shared_worth(  # noqa: PLR0913
    snapshot: Snapshot,
    event: Event,
    part: Part,
    taken: tuple[int, int],
    *,
    field: int,
    vacant: tuple[int, ...],
) -> Fraction:
    """Give the points of each of those on a place: `taken` is the place and how many share it; nobody has a vacant one.

    Raises ValueError for a place outside the field.
    """
    known: dict[tuple[int, int], Fraction] = snapshot.kept(("worth", event.id, part.id, field, vacant), (), dict)
    worth = known.get(taken)
    if worth is None:
        table, (place, sharing) = snapshot.competition.points[part.points], taken
        sharers = dict.fromkeys(range(sharing), place)
        worth = award(sharers, table, ties=event.ties, field=field, vacant=vacant)[0]
        known[taken] = worth
    return worth
