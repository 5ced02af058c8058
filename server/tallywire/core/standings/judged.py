"""A division in one scored part of an event: the result of each lane that has been on the floor, not yet placed."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import partial

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.formats.base import NEVER_MS, Outcome, Status, reps_text
from tallywire.core.formats.counting import done_at, passed_ms
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Entry, Event, Measure, Part
from tallywire.core.model.timetext import clock_text

_OPEN = (Status.READY, Status.WORKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One entry in a scored part. `settled` is False while the heat still races.

    `earns` is False without a result, or with less than the least work the event asks for. `called` is False while the
    judge's call may still move a time that stands.
    """

    entry: Entry
    heat: str
    lane: int
    outcome: Outcome
    earns: bool
    settled: bool
    called: bool


def judged(snapshot: Snapshot, event: Event, part: Part, division: str) -> list[Judged]:
    """Judge everyone of a division in one scored part, heat by heat, leaving out entries whose heat has not started."""
    return [
        each
        for heat in snapshot.heats_of(event.id)
        if heat.started is not None and division in heat.divisions
        for each in _in_heat(snapshot, heat, part, division)
    ]


def in_field(everyone: Iterable[Judged], field: Collection[str] | None) -> list[Judged]:
    """Give those who are in an event: all of them, or where it comes after a cut those who survived it."""
    return [each for each in everyone if field is None or each.entry.id in field]


def _in_heat(snapshot: Snapshot, heat: HeatSnapshot, part: Part, division: str) -> list[Judged]:
    """A lane's result is kept with the lane: a tap changes that of one."""
    lanes, name = heat.divisions[division], f"judged {part.id}"
    return heat.once(
        f"{name} {division}",
        lambda: [heat.once_of(lane, name, partial(_judge, snapshot, heat, lane, part)) for lane in lanes],
    )


def _judge(snapshot: Snapshot, heat: HeatSnapshot, lane: int, part: Part) -> Judged:
    outcome = part_outcome(heat, lane, part)
    return Judged(
        entry=snapshot.competition.entry_on(heat.heat, lane),
        heat=heat.heat.id,
        lane=lane,
        outcome=outcome,
        earns=earns(heat, outcome),
        settled=heat.over or outcome.status not in _OPEN,
        called=part.measure is not Measure.RESULT or _is_called(heat, lane, outcome),
    )


def _is_called(heat: HeatSnapshot, lane: int, outcome: Outcome) -> bool:
    closed = heat.over or outcome.status is not Status.FINISHED
    if closed and outcome.status is not Status.TIMED:
        return True
    return not format_of(heat.event.workout).counting.awaits_call(heat.plan, heat.tally(lane))


def earns(heat: HeatSnapshot, outcome: Outcome) -> bool:
    """Tell whether a place earns points: only with a result, and with the least work the event asks for."""
    return outcome.status.has_result and outcome.scored_reps >= heat.event.workout.minimum_reps


def part_outcome(heat: HeatSnapshot, lane: int, part: Part) -> Outcome:
    """Judge a lane in one scored part."""
    whole = heat.outcome(lane)
    if part.measure is Measure.RESULT or not whole.status.has_result:
        return whole
    if part.measure is Measure.TIME_AT:
        return _time_at(heat, lane, part, whole)
    return _reps_at(heat, lane, part, whole)


def _time_at(heat: HeatSnapshot, lane: int, part: Part, whole: Outcome) -> Outcome:
    """The time at the mark; those who have not passed it are ranked by scored reps, below all who have."""
    if part.mark is None:
        raise ValueError(f"found part {part.id} without a mark, expected one")
    at_ms = passed_ms(heat.tally(lane).trail, heat.plan.done_at(part.mark))
    workout = heat.event.workout
    if at_ms >= NEVER_MS:
        status = Status.CAPPED if heat.over else whole.status
        return Outcome(
            status=status,
            key=(1, -whole.scored_reps),
            result=reps_text(whole.scored_reps),
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


def _reps_at(heat: HeatSnapshot, lane: int, part: Part, whole: Outcome) -> Outcome:
    """The scored reps when the clock stood at the part's time."""
    at_ms = part.at_ms or 0
    done = done_at(heat.tally(lane).trail, at_ms)
    scored = max(0, heat.plan.scored(done) - heat.conduct(lane).penalty_reps)
    over = heat.clock_ms >= at_ms or heat.over
    return Outcome(
        status=Status.TIMED if over else whole.status,
        key=(1, -scored),
        result=reps_text(scored),
        score=scored,
        scored_reps=scored,
    )
