"""A division before an event: who is still in, and what each has earned so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from tallywire.core.clinching.race import NO_PLACE, Contender
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.ranking.series import Series
from tallywire.core.ranking.standing import EventScores, Scored, StandingRow
from tallywire.core.standings.overall import event_results, field_size_in, series_up_to


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """A division before an event.

    `contenders` are those still in, with their scores of the events before, deductions taken off; `gone` those of them
    who have left the competition, `leaving` those who leave with this event, `unlisted` those on no lane of the event
    although every heat has its lanes. `field` is how many the event's points are for. `open` says that an event before
    has begun and is not complete: somebody may still score there.
    """

    contenders: tuple[Contender, ...]
    gone: frozenset[str]
    unlisted: frozenset[str]
    field: int
    leaving: frozenset[str] = frozenset()
    open: bool = False


def division_before(snapshot: Snapshot, division: str, event: str) -> Before:
    """Give a division as it stands without an event and those after it; cuts of the events before are made."""
    earlier = snapshot.events_before(event)
    series = series_up_to(snapshot, division, earlier)
    key = ("before", division, event)
    open_ = any(_is_open(snapshot, each, division) for each in earlier)
    return snapshot.kept(key, (), lambda: _before(snapshot, series, division, event, open_), also=(series, open_))


def _is_open(snapshot: Snapshot, event: str, division: str) -> bool:
    """Whether some of the division have raced an event and others may still."""
    results = event_results(snapshot, snapshot.competition.events[event], division).values()
    return any(each.keys and not each.complete for each in results)


def _before(snapshot: Snapshot, series: Series, division: str, event: str, open_: bool) -> Before:
    earlier = snapshot.events_before(event)
    listed = {entry for heat in snapshot.heats_of(event) for entry in heat.heat.lanes.values()}
    seeded = all(heat.heat.lanes for heat in snapshot.heats_of(event))
    sign = snapshot.competition.standing_rules.order.sign
    held = [each for each in series.scores if each.scores]
    return Before(
        contenders=tuple(_contender(row, held, sign) for row in series.rows if row.entry in series.field),
        gone=_left_after(snapshot, series, earlier),
        unlisted=frozenset(series.field) - listed if seeded else frozenset(),
        field=field_size_in(snapshot, event, division),
        leaving=_left_after(snapshot, series, [event]),
        open=open_,
    )


def _left_after(snapshot: Snapshot, series: Series, events: Sequence[str]) -> frozenset[str]:
    return frozenset(each for each in series.field if snapshot.competition.entries[each].left_after in events)


def _contender(row: StandingRow, held: Sequence[EventScores], sign: int) -> Contender:
    """Give a contender with all its points, also those dropped for now: after the event others may be dropped."""
    taken = sign * sum((each.points for each in row.deductions), Fraction(0))
    past = tuple(
        event.scores.get(row.entry) or Scored(place=NO_PLACE, points=cell.points, has_result=False)
        for event, cell in zip(held, row.cells, strict=True)
    )
    points = row.before + taken + sum((each.points for each in past), Fraction(0))
    return Contender(entry=row.entry, points=points, past=past)
