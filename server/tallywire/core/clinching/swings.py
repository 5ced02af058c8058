"""What an event does to the overall standing: places before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from tallywire.core.clinching.race import Contender, Race, flat
from tallywire.core.ranking.places import field_with, passing_over
from tallywire.core.ranking.points import award
from tallywire.core.ranking.standing import (
    Entrant,
    EventScores,
    Scored,
    StandingRow,
    StandingRules,
    no_result_points,
    standing,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """One entry's overall standing before and after.

    `gained` is what the event gives; with dropped scores the overall points may rise by less.
    """

    entry: str
    points_before: Fraction
    gained: Fraction
    place_before: int
    place_after: int

    @property
    def moved(self) -> int:
        """The overall places won (positive) or lost (negative)."""
        return self.place_before - self.place_after


def swings(race: Race, levels: Sequence[Sequence[str]]) -> list[Swing]:
    """Give the swings if the event ended in this order (levels best first), by overall place after it.

    "As it stands" leaves out of `levels` those who have not been on the floor yet: they count as without a result so
    far, as in the running standing. "If it ends now" has everyone in it. Those in the race's `out` have no result.
    """
    scores = race_scores(race, levels)
    return event_swings(race, [scores] if scores else [])


def event_swings(race: Race, scores: Sequence[Mapping[str, Scored]]) -> list[Swing]:
    """Give the swings of an event with one or several scores, as the standings have them."""
    before = _standing_before(race.contenders, race.rules)
    after = _standing(race.contenders, race.rules, scores)
    found = []
    for each in race.contenders:
        own = [part[each.entry] for part in scores if each.entry in part]
        found.append(
            Swing(
                entry=each.entry,
                points_before=before[each.entry].total,
                gained=sum((score.points for score in own), Fraction(0)),
                place_before=before[each.entry].place,
                place_after=after[each.entry].place,
            )
        )
    return sorted(found, key=lambda swing: (swing.place_after, swing.place_before))


def race_scores(race: Race, levels: Sequence[Sequence[str]]) -> dict[str, Scored]:
    """Give the scores of an event that ended in this order, or stands so; those in `absent` have none."""
    found = {entry: place for entry, place, _ in flat(levels)}
    natural = found | dict.fromkeys((each for each in race.out if each not in race.absent), len(found) + 1)
    placed = {entry: passing_over(place, race.vacant) for entry, place in natural.items()}
    field = field_with(race.held_for, ranked=len(found), vacant=race.vacant)
    unpaid = dict.fromkeys([*race.out, *race.unpaid], no_result_points(race.rules.order, field))
    points = award(placed, race.table, ties=race.ties, field=field, no_result=unpaid, vacant=race.vacant)
    return {
        entry: Scored(
            place=place,
            points=points[entry],
            has_result=entry not in race.out,
            must_count=entry in race.must_count,
            in_count_back=race.in_count_back,
        )
        for entry, place in placed.items()
    }


@lru_cache(maxsize=32)
def _standing_before(contenders: tuple[Contender, ...], rules: StandingRules) -> Mapping[str, StandingRow]:
    """The standing before the event, which stays the same as long as the event goes on."""
    return _standing(contenders, rules, [])


def _standing(
    contenders: tuple[Contender, ...], rules: StandingRules, scores: Sequence[Mapping[str, Scored]]
) -> dict[str, StandingRow]:
    past = [
        EventScores(event=f"past {n}", scores={each.entry: each.scores()[n] for each in contenders})
        for n in range(len(contenders[0].scores()))
    ]
    now = [EventScores(event=f"now {n}", scores=part) for n, part in enumerate(scores)]
    entrants = [Entrant(entry=each.entry, before=each.brought) for each in contenders]
    return {row.entry: row for row in standing(entrants, [*past, *now], rules)}
