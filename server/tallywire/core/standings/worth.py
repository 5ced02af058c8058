"""What a place in an event is worth, found once for every place and number of those who share it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Event, Part
from tallywire.core.ranking.points import award, worths
from tallywire.core.standings.overall import field_size_in


def worth_of_places(snapshot: Snapshot, heat: HeatSnapshot) -> Mapping[str, tuple[Fraction, ...]]:
    """Give what each place in a heat's event is worth, by division, first place first; of several scores, in the first.

    Raises ValueError where the table has no value.
    """
    table = snapshot.competition.points[heat.event.scored_parts()[0].points]
    sizes = {each: field_size_in(snapshot, heat.event.id, each) for each in heat.divisions}
    return {division: worths(table, size) for division, size in sizes.items()}


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
