"""An event inside an overall standing: who contends, under which rules, and what is settled already."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import field as made
from fractions import Fraction
from itertools import chain

from tallywire.core.ranking.places import field_with
from tallywire.core.ranking.points import Table, TiePolicy, added_up, worths
from tallywire.core.ranking.standing import Scored, StandingRules, no_result_points

NO_PLACE = 2**62
"""Stands for the place of those who never came: it is worse than any."""


Bound = tuple[int, bool]
"""How many settled levels an open entry can neither reach nor pass, and whether it can reach the next but not pass it.
"""


class NotWorkedOut(ValueError):
    """There is no exact answer to what is needed; `code` tells the pages why.

    earlier_event: an event before this one has begun and is not complete.
    several_scores: more than one score of the event is open.
    rising_points: a worse place may earn more.
    one_by_one: with means for shared places and drops or a minimum of work, a result may help one entry and harm
    another.
    vacant_place: nobody is given some place of the event.

    The three before the last are worked out from a list of all orders, so they are said only where those are too many.
    """

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(frozen=True, slots=True, kw_only=True)
class Contender:
    """An entry before the event: all its overall points, deductions taken off, and its places so far, in their order.

    `past` are the scores of the events so far, which are in `points`; with them `places` may be left out. Rules that
    look at single scores (drops, best scores, latest events) need them.
    """

    entry: str
    points: int | Fraction = 0
    places: tuple[int, ...] = ()
    past: tuple[Scored, ...] = ()

    def __hash__(self) -> int:
        """Equal ones have the same; those who differ in points alone have it too, because hashing fractions is dear."""
        return hash(self.entry)

    def scores(self) -> tuple[Scored, ...]:
        """Give the scores so far; where only places are known, the points count as brought in."""
        return self.past or tuple(Scored(place=place, points=Fraction(0)) for place in self.places)

    @property
    def brought(self) -> Fraction:
        """The points that come from no event: those brought in, less deductions."""
        return Fraction(self.points) - added_up([each.points for each in self.past])


@dataclass(frozen=True, slots=True, kw_only=True)
class Race:
    """An event as far as it is known.

    `settled` lists, best first, the levels of those whose result is fixed among each other (a level of several is a
    tie); an entry neither settled nor in `out` is open and may yet end anywhere, a tie included. No open entry can
    reach or pass the first `passed` levels any more: in a race for time, those whose time is on the clock already.
    `out` holds those without a result, placed after all who have one (`absent`: those of them who never came to the
    event, `must_count`: those whose score is never dropped); `unpaid` those who are placed and earn nothing, with less
    than the minimum work. `field` is how many entries the points table is asked for, by default all contenders.

    `bounds` are given where they differ: by open entry, how many levels it can neither reach nor pass, and whether it
    can reach the next but not pass it; `passed` is then the least of them.

    Its places break no ties by count-back where the race is not `in_count_back`. Nobody is given a `vacant` place: the
    levels pass over it, and so does `worths`.

    `uncounted` entries are placed in the event and take nobody's place overall. With `level_is_ahead`, an entry that is
    level overall counts as ahead: a cut needs that if nobody of those level across the line goes on.

    Raises ValueError for an entry that is unknown or named twice.
    """

    contenders: tuple[Contender, ...]
    table: Table
    ties: TiePolicy = TiePolicy.SHARE_BETTER
    rules: StandingRules = made(default_factory=StandingRules)
    settled: tuple[tuple[str, ...], ...] = ()
    passed: int = 0
    bounds: tuple[tuple[str, Bound], ...] = ()
    out: tuple[str, ...] = ()
    unpaid: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    must_count: tuple[str, ...] = ()
    uncounted: tuple[str, ...] = ()
    level_is_ahead: bool = False
    in_count_back: bool = True
    vacant: tuple[int, ...] = ()
    field: int | None = None

    def __post_init__(self) -> None:
        named = Counter([*chain(*self.settled), *self.out])
        wrong = sorted(named.keys() - {each.entry for each in self.contenders}) + [e for e in named if named[e] > 1]
        if wrong or not all(self.settled):
            raise ValueError(f"found settled {self.settled} and out {self.out}, expected each contender once at most")
        if not 0 <= self.passed <= len(self.settled):
            raise ValueError(f"found {self.passed} levels passed, expected at most the {len(self.settled)} settled")

    @property
    def open(self) -> tuple[str, ...]:
        """The entries that may still end anywhere, in the order of the contenders."""
        closed = {*chain(*self.settled), *self.out}
        return tuple(each.entry for each in self.contenders if each.entry not in closed)

    def bound(self, entry: str) -> Bound:
        """Give what an open entry can no longer reach."""
        return dict(self.bounds).get(entry, (self.passed, False))

    @property
    def ranked(self) -> int:
        """How many entries will have a result."""
        return len(self.contenders) - len(self.out)

    @property
    def nothing(self) -> Fraction:
        """What the event is worth to an entry without a result."""
        return no_result_points(self.rules.order, self.size)

    def without_result(self, entry: str) -> Scored:
        """Give what the event is worth to one of those in `out`."""
        place = NO_PLACE if entry in self.absent else self.ranked + 1
        return Scored(place=place, points=self.nothing, has_result=False, must_count=entry in self.must_count)

    @property
    def held_for(self) -> int:
        """How many entries the event is held for."""
        return len(self.contenders) if self.field is None else self.field

    @property
    def size(self) -> int:
        """The size of the field for which the points table is asked."""
        return field_with(self.held_for, ranked=self.ranked, vacant=self.vacant)

    def worths(self) -> tuple[Fraction, ...]:
        """Give what every place that is given is worth, the best first."""
        found = worths(self.table, self.size)
        return tuple(worth for place, worth in enumerate(found, 1) if place not in self.vacant)


def levels_of(places: dict[str, int]) -> tuple[tuple[str, ...], ...]:
    """Turn places into levels, best first: what `Race.settled` takes."""
    return tuple(tuple(entry for entry in places if places[entry] == place) for place in sorted(set(places.values())))


def flat(levels: Sequence[Sequence[str]]) -> list[tuple[str, int, int]]:
    """Give each entry of the levels with its place and the number who share it."""
    found: list[tuple[str, int, int]] = []
    for level in levels:
        place = len(found) + 1
        found += [(entry, place, len(level)) for entry in level]
    return found
