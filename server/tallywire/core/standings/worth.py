"""What a place in an event is worth, found once for every place and number of those who share it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Event, Part
from tallywire.core.ranking.places import field_with
from tallywire.core.ranking.points import award, worths
from tallywire.core.standings.judged import judged
from tallywire.core.standings.overall import field_before, field_size_in


def worth_of_places(snapshot: Snapshot, heat: HeatSnapshot) -> Mapping[str, tuple[Fraction, ...]]:
    """Give what each place in a heat's event is worth, by division, first place first; of several scores, in the first.

    Raises ValueError where the table has no value.
    """
    table = snapshot.competition.points[heat.event.scored_parts()[0].points]
    return {division: worths(table, _field(snapshot, heat.event, division)) for division in heat.divisions}


def _field(snapshot: Snapshot, event: Event, division: str) -> int:
    """How many places an event has: where one is vacant, it reaches at least to the last that is given by now."""
    size, part = field_size_in(snapshot, event.id, division), event.scored_parts()[0]
    if not part.vacant_in(division):
        return size
    field = field_before(snapshot, event.id, division)
    raced = [each for each in judged(snapshot, event, part, division) if field is None or each.entry.id in field]
    ranked = sum(each.outcome.status.has_result for each in raced)
    return field_with(size, ranked=ranked, vacant=part.vacant_in(division))


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
