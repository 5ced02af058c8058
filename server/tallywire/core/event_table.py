"""The table of an event: every entry of a division over all its heats, while later heats still race.

The place in the event, the place in the heat and the time to beat are three different things: the first counts
everyone of the division who has been on the floor, the second those on the floor together, and the third is the best
result of the heats before.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from tallywire.core.book import ClockOf, CompetitionBook, last_fact
from tallywire.core.competition import Entry, Event, Measure, Part
from tallywire.core.fold import HeatBook
from tallywire.core.formats.base import NEVER_MS, Outcome, Status
from tallywire.core.formats.counting import passed_ms
from tallywire.core.points import award
from tallywire.core.ranking import event_places
from tallywire.core.standings import no_result_points
from tallywire.core.timetext import clock_text


@dataclass(frozen=True, slots=True, kw_only=True)
class EventRow:
    """One entry in a scored part of an event. `settled` is False while the heat still races.

    `place` counts everyone of the division in the event so far, `heat_place` those on the floor together. `earns` is
    False for who has no result or less than the least work the event asks for.
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


Where = tuple[str, int]
"""A heat and a lane."""

_OPEN = (Status.READY, Status.WORKING)


def event_table(
    book: CompetitionBook, event: Event, part: Part, division: str, *, clock_of: ClockOf = last_fact
) -> list[EventRow]:
    """Rank a division in one scored part over all heats that have started, best first.

    Entries whose heat has not started are not in the table.
    """
    clocks = {heat.heat.id: clock_of(heat) for heat in book.heats_of(event.id) if heat.started is not None}
    found = _outcomes(book, part, division, clocks)
    place_of = _places(found)
    heat_places = {heat: _places(_of_heat(found, heat)) for heat in clocks}
    points = _points(book, event, part, division, {where: (place_of[where], found[where]) for where in found})
    sharing = Counter(place_of.values())
    rows = [
        EventRow(
            entry=book.competition.entry_on(book.heats[heat].heat, lane),
            heat=heat,
            lane=lane,
            outcome=outcome,
            place=place_of[heat, lane],
            shared=sharing[place_of[heat, lane]] > 1,
            heat_place=heat_places[heat][heat, lane],
            points=points[heat, lane],
            earns=earns(book.heats[heat], outcome),
            no_reps=book.heats[heat].tally(lane).no_reps,
            settled=book.heats[heat].over(clocks[heat]) or outcome.status not in _OPEN,
        )
        for (heat, lane), outcome in found.items()
    ]
    return sorted(rows, key=lambda row: (row.place, row.lane))


def _outcomes(book: CompetitionBook, part: Part, division: str, clocks: Mapping[str, int]) -> dict[Where, Outcome]:
    entry_on = book.competition.entry_on
    return {
        (heat, lane): part_outcome(book.heats[heat], lane, part, clock_ms)
        for heat, clock_ms in clocks.items()
        for lane in book.heats[heat].heat.lanes
        if entry_on(book.heats[heat].heat, lane).division == division
    }


def _of_heat(found: Mapping[Where, Outcome], heat: str) -> dict[Where, Outcome]:
    return {where: outcome for where, outcome in found.items() if where[0] == heat}


def _places(found: Mapping[Where, Outcome]) -> dict[Where, int]:
    lost = [where for where, outcome in found.items() if not outcome.status.has_result]
    return event_places([{where: outcome.key for where, outcome in found.items()}], no_result=lost)


def _points(
    book: CompetitionBook, event: Event, part: Part, division: str, found: Mapping[Where, tuple[int, Outcome]]
) -> dict[Where, Fraction]:
    """What the places are worth to those who earn points, as ties go in this event."""
    field = max(book.competition.field_size(event.id, division), len(found))
    nothing = no_result_points(book.competition.standing_rules.order, field)
    unpaid = {where: nothing for where, (_, outcome) in found.items() if not earns(book.heats[where[0]], outcome)}
    return award(
        {where: place for where, (place, _) in found.items()},
        book.competition.points[part.points],
        ties=event.ties,
        field=field,
        no_result=unpaid,
    )


def earns(heat: HeatBook, outcome: Outcome) -> bool:
    """Tell whether a place earns points: only with a result, and with the least work the event asks for."""
    return outcome.status.has_result and outcome.scored_reps >= heat.event.workout.minimum_reps


def part_outcome(heat: HeatBook, lane: int, part: Part, clock_ms: int) -> Outcome:
    """Judge a lane in one scored part."""
    whole = heat.outcome(lane, clock_ms)
    if part.measure is Measure.RESULT or not whole.status.has_result:
        return whole
    if part.measure is Measure.TIME_AT:
        return _time_at(heat, lane, part, whole, clock_ms)
    return _reps_at(heat, lane, part, whole, clock_ms)


def best_result(rows: Iterable[EventRow], *, before_heat: str) -> EventRow | None:
    """Give the row to beat: the best settled one of the other heats, or None."""
    settled = [row for row in rows if row.settled and row.heat != before_heat and row.outcome.status.has_result]
    return min(settled, key=lambda row: row.place, default=None)


def _time_at(heat: HeatBook, lane: int, part: Part, whole: Outcome, clock_ms: int) -> Outcome:
    """The time at the mark; who has not passed it is ranked by scored reps, below all who have."""
    if part.mark is None:
        raise ValueError(f"found part {part.id} without a mark, expected one")
    at_ms = passed_ms(heat.tally(lane), heat.plan.done_at(part.mark))
    workout = heat.event.workout
    if at_ms >= NEVER_MS:
        status = Status.CAPPED if heat.over(clock_ms) else whole.status
        return Outcome(
            status=status,
            key=(1, -whole.scored_reps),
            result=f"{whole.scored_reps} reps",
            score=whole.score,
            scored_reps=whole.scored_reps,
        )
    time = at_ms + heat.conduct(lane).penalty_ms
    return Outcome(
        status=Status.FINISHED,
        key=(0, time),
        result=clock_text(time, decimals=workout.decimals, round_up=workout.round_up),
        result_ms=time,
        score=whole.score,
        scored_reps=whole.scored_reps,
    )


def _reps_at(heat: HeatBook, lane: int, part: Part, whole: Outcome, clock_ms: int) -> Outcome:
    """The scored reps when the clock stood at the part's time."""
    at_ms = part.at_ms or 0
    done = max((done for reached_ms, done in heat.tally(lane).trail if reached_ms <= at_ms), default=0)
    scored = max(0, heat.plan.scored(done) - heat.conduct(lane).penalty_reps)
    over = clock_ms >= at_ms or heat.over(clock_ms)
    return Outcome(
        status=Status.TIMED if over else whole.status,
        key=(1, -scored),
        result=f"{scored} reps",
        score=scored,
        scored_reps=scored,
    )
