"""The overall standing of one division, from its events' points: running and final are the same function."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

from tallywire.core.ranking.places import places
from tallywire.core.ranking.points import added_up
from tallywire.core.ranking.tie_rules import EventCell, Key, Order, TieRule, tie_key


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """An entry's score in one event. A score that `must_count` is never dropped (a disqualification, say); the places
    of an event that is not `in_count_back` break no ties (a sprint, a bonus point).
    """

    place: int
    points: Fraction
    has_result: bool = True
    must_count: bool = False
    in_count_back: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class EventScores:
    """The scores of one event by entry. `stage` is how many cuts came before it: only their survivors are in it."""

    event: str
    scores: Mapping[str, Scored]
    stage: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Deduction:
    """Points taken from the overall standing, with the reason. `event` is where it happened; empty means before the
    first event.

    It worsens the total: taken from it where the most points win, added where the fewest do.
    """

    points: Fraction
    reason: str
    event: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entrant:
    """An entry of the division: what it brings into the first event, its deductions, how many cuts it survived."""

    entry: str
    before: Fraction = Fraction(0)
    deductions: tuple[Deduction, ...] = ()
    survived: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingRules:
    """How points become a standing.

    `drop_worst` events of each entry do not count once `drop_from` events have scores; one event always counts. Raises
    ValueError for a negative number or for a tie rule behind SHARED.
    """

    order: Order = Order.MOST
    drop_worst: int = 0
    drop_from: int = 0
    ties: tuple[TieRule, ...] = (TieRule.COUNT_BACK, TieRule.LAST_EVENT)

    def __post_init__(self) -> None:
        if min(self.drop_worst, self.drop_from) < 0:
            raise ValueError(f"found drop {self.drop_worst} from {self.drop_from} events on, expected none negative")
        if TieRule.SHARED in self.ties[:-1]:
            raise ValueError(f"found tie rules {', '.join(self.ties)}, expected shared at the end only")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingRow:
    """One line of the standing.

    `total` is what the entry brings plus its events that count, deductions applied. `decided_by` is the tie rule that
    separated it from the last of those with equal points: SHARED if none did, None if nobody has equal points. `keys`
    holds what the tie rules compared.
    """

    place: int
    shared: bool
    entry: str
    total: Fraction
    before: Fraction
    cells: tuple[EventCell, ...]
    deductions: tuple[Deduction, ...]
    survived: int
    decided_by: TieRule | None
    keys: tuple[tuple[TieRule, Key], ...]


def standing(
    entrants: Sequence[Entrant], events: Sequence[EventScores], rules: StandingRules | None = None
) -> tuple[StandingRow, ...]:
    """Give the standing, best first; those who share a place stay in the order of `entrants`.

    Events come in the order they were held; one without any score is passed over. Those who survived more cuts stand
    before those who survived fewer, whatever their points. An entry without a score in an event of its stage counts as
    one without a result (see `no_result_points`) until it has one.

    Raises ValueError for an entry named twice or for a score of someone who is not an entrant.
    """
    rules = rules or StandingRules()
    _check(entrants, events)
    held = [(event, _absent(event, entrants, rules)) for event in events if event.scores]
    rows = [_row(entrant, _own(entrant, held), rules) for entrant in entrants]
    return tuple(sorted(_placed(rows, rules), key=lambda row: row.place))


def no_result_points(order: Order, field: int) -> Fraction:
    """What an event is worth to an entry without a result: nothing where the most points win, otherwise one more than
    the field.

    The second is the Racing Rules of Sailing's, A4.2, for low-point scoring.
    """
    return Fraction(0 if order is Order.MOST else field + 1)


def deciding_rule(one: StandingRow, other: StandingRow) -> TieRule | None:
    """Give the tie rule that puts one row before another: None if points or a cut do, SHARED if no rule does."""
    if (one.survived, one.total) != (other.survived, other.total):
        return None
    pairs = zip(one.keys, other.keys, strict=True)
    return next((rule for (rule, key), (_, theirs) in pairs if key != theirs), TieRule.SHARED)


def _check(entrants: Sequence[Entrant], events: Sequence[EventScores]) -> None:
    count = Counter(entrant.entry for entrant in entrants)
    twice = [name for names in (count, Counter(event.event for event in events)) for name in names if names[name] > 1]
    if twice:
        raise ValueError(f"found {', '.join(twice)} twice, expected each entry and each event once")
    for event in events:
        strangers = [entry for entry in event.scores if entry not in count]
        if strangers:
            raise ValueError(f"event {event.event}: found scores of {', '.join(strangers)}, expected entrants only")


def _absent(event: EventScores, entrants: Sequence[Entrant], rules: StandingRules) -> EventCell:
    """The cell of an event in which the entry has no score yet."""
    field = sum(entrant.survived >= event.stage for entrant in entrants)
    points = no_result_points(rules.order, field)
    return EventCell(event=event.event, place=None, points=points, has_result=False)


def _own(entrant: Entrant, held: Iterable[tuple[EventScores, EventCell]]) -> list[tuple[EventCell, bool]]:
    """One entry's events, each with whether it must count."""
    found = []
    for event, absent in held:
        score = event.scores.get(entrant.entry)
        if event.stage <= entrant.survived:
            found.append((cell_of(score, event.event), score.must_count) if score else (absent, False))
    return found


def cell_of(score: Scored, event: str = "") -> EventCell:
    """Turn a score into a cell of the standing."""
    return EventCell(
        event=event,
        place=score.place,
        points=score.points,
        has_result=score.has_result,
        in_count_back=score.in_count_back,
    )


def _row(entrant: Entrant, own: Sequence[tuple[EventCell, bool]], rules: StandingRules) -> StandingRow:
    gone = dropped(own, rules)
    cells = tuple([replace(cell, dropped=True) if index in gone else cell for index, (cell, _) in enumerate(own)])
    scored = added_up([entrant.before, *(cell.points for cell in cells if not cell.dropped)])
    taken = added_up([each.points for each in entrant.deductions])
    return StandingRow(
        place=0,
        shared=False,
        entry=entrant.entry,
        total=scored + rules.order.sign * taken,
        before=entrant.before,
        cells=cells,
        deductions=entrant.deductions,
        survived=entrant.survived,
        decided_by=None,
        keys=tuple((rule, tie_key(rule, cells, rules.order)) for rule in rules.ties),
    )


def dropped(own: Sequence[tuple[EventCell, bool]], rules: StandingRules) -> set[int]:
    """Give the indexes of the scores that do not count; the second of each pair says that it must.

    An event that the entry has not had yet is dropped first, then the worst points; of equal points, the score without
    a result, then the worse place, then the earliest.

    The earliest of equal scores is the Racing Rules of Sailing's, A2.1. The place comes before it because otherwise an
    entry could gain by count-back from finishing lower.
    """
    if len(own) < max(rules.drop_from, 1) or not rules.drop_worst:
        return set()
    free = [index for index, (_, must_count) in enumerate(own) if not must_count]
    count = min(rules.drop_worst, len(own) - 1)
    return set(sorted(free, key=lambda index: _worst_first(own[index][0], rules.order))[:count])


def _worst_first(cell: EventCell, order: Order) -> Key:
    return (cell.place is not None, -order.sign * cell.points, cell.has_result, -(cell.place or 0))


def _placed(rows: Sequence[StandingRow], rules: StandingRules) -> list[StandingRow]:
    """Place the rows, and name for each the first rule after which nobody was level with it any more."""
    keys = {row.entry: _prefixes(row, rules) for row in rows}
    levels = [Counter(each[depth] for each in keys.values()) for depth in range(len(rules.ties) + 1)]
    place_of = places({entry: each[-1] for entry, each in keys.items()})
    found = []
    for row in rows:
        alone = [count[key] == 1 for count, key in zip(levels, keys[row.entry], strict=True)]
        by = next((rule for rule, only in zip((None, *rules.ties), alone, strict=True) if only), TieRule.SHARED)
        found.append(replace(row, place=place_of[row.entry], shared=not alone[-1], decided_by=by))
    return found


def _prefixes(row: StandingRow, rules: StandingRules) -> list[tuple[Key, ...]]:
    """The sort keys of a row: by points alone, with the first tie rule, with the second as well, and so on."""
    total = rules.order.sign * row.total
    # A whole number compares and counts as the fraction does, ten times as fast.
    first: Key = (-row.survived, total.numerator if total.denominator == 1 else total)
    return list(accumulate(((key,) for _, key in row.keys), initial=(first,)))
