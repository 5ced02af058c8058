"""Cues of a max-load heat: leads and places by load, missed lifts that mattered, and what is on the bar.

They are read from the judged attempts of all lanes in the order in which they were judged, so that a correction takes
back what it makes untrue. Opening lifts give no cue except for the lead, because places say nothing before everyone has
lifted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from tallywire.core.cues.cue import Cue, CueRules, Kind, Value
from tallywire.core.cues.format_cues import FormatCues
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.cues.wins import won
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status
from tallywire.core.model.workout import Workout
from tallywire.formats.max_load.rules import rules_of
from tallywire.formats.max_load.tally import attempts_of

GOOD_LIFT = Kind("good_lift", weight=65, ttl_ms=15_000)
MISSED_LIFT = Kind("missed_lift", weight=62, ttl_ms=15_000)
ON_THE_BAR = Kind("on_the_bar", weight=55, ttl_ms=30_000)


class LiftCues(FormatCues):
    """The cues of lifts: places move with single attempts, and a miss is told together with what it costs."""

    kinds: ClassVar[tuple[Kind, ...]] = (GOOD_LIFT, MISSED_LIFT, ON_THE_BAR)
    has_run_in: ClassVar[bool] = False

    def milestones(self, observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
        """Give the cues of the attempts, once the judge's call has had time to be taken back."""
        return _lift_cues(observation, rules, lanes)

    def leads_are_live(self, _workout: Workout) -> bool:
        """There is no such leader: a lead changes hands with an attempt, and the cue is about that attempt."""
        return False

    def misses(self, _observation: Observation, _lane: LaneState) -> Said | None:
        """There are no runs of misses: those that matter are told one by one."""
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """One judged attempt, the lane's `number` (from 1), with each lane's best good lift before it (0: none)."""

    lane: LaneState
    number: int
    at_ms: int
    load_milli: int
    made: bool
    before: Mapping[int, int]

    @property
    def own(self) -> int:
        """The lane's own best before this attempt."""
        return self.before[self.lane.lane]

    @property
    def top(self) -> int:
        """The best of the others before this attempt."""
        return max((best for lane, best in self.before.items() if lane != self.lane.lane), default=0)

    @property
    def takes_lead(self) -> bool:
        """Whether the load is more than anybody has, unless the lane already leads alone."""
        return self.load_milli > self.top > 0 and self.own <= self.top


def _lift_cues(observation: Observation, rules: CueRules, lanes: Sequence[LaneState]) -> Iterator[Cue]:
    if len(lanes) < 2:
        return
    settled_ms = observation.clock_ms - rules.finish_settles_ms
    for lift in _lifts(lanes):
        if lift.at_ms <= settled_ms:
            yield from _good(observation, lanes, lift) if lift.made else _missed(observation, lanes, lift)
    if all(lane.tally.reached_ms <= settled_ms for lane in lanes):
        yield from (cue for lane in lanes for cue in _on_the_bar(observation, lanes, lane))
    if not _somebody_can_lift(lanes):
        yield from _win(observation, lanes, settled_ms)


def _lifts(lanes: Sequence[LaneState]) -> list[Lift]:
    """All judged attempts of those with a result, in the order of the calls."""
    judged = sorted(
        (at_ms, lane.lane, number, lane, attempt.load_milli, attempt.made is True)
        for lane in lanes
        if lane.status.has_result
        for (at_ms, number), attempt in zip(lane.tally.trail, attempts_of(lane.tally), strict=False)
    )
    best = {lane.lane: 0 for lane in lanes if lane.status.has_result}
    found: list[Lift] = []
    for at_ms, number_of_lane, number, lane, load_milli, made in judged:
        found.append(Lift(lane=lane, number=number, at_ms=at_ms, load_milli=load_milli, made=made, before=dict(best)))
        best[number_of_lane] = max(best[number_of_lane], load_milli if made else 0)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rise:
    """A good lift compared with the others: their best lifts, the place it gives, and the place before it."""

    others: Mapping[int, int]
    place: int
    place_before: int
    first_and_last: bool

    @classmethod
    def of(cls, lift: Lift, attempts: int | None) -> _Rise:
        """Compare a lift with the best lifts before it."""
        others = {number: best for number, best in lift.before.items() if number != lift.lane.lane}
        return cls(
            others=others,
            place=1 + sum(best > lift.load_milli for best in others.values()),
            place_before=1 + sum(best > lift.own for best in others.values()),
            first_and_last=lift.own == 0 and 1 < lift.number == attempts,
        )


def _good(observation: Observation, lanes: Sequence[LaneState], lift: Lift) -> Iterator[Cue]:
    """A good lift is told for the lead, for a better place, or as a first good lift with the last attempt.

    Not once that is no longer true, and not for first place once the win is told.
    """
    rise = _Rise.of(lift, observation.state.plan.total_done)
    over = rise.place == 1 and not _somebody_can_lift(lanes)
    if lift.load_milli <= lift.own or lift.lane.place != rise.place or over:
        return
    if lift.takes_lead:
        if not lift.lane.place_shared:
            yield _lead(observation, _with(lanes, rise.others, lift.top), lift)
    elif rise.first_and_last and rise.place > 1:
        yield _lift_cue(observation, GOOD_LIFT, "lift_saved", lift, place=rise.place)
    elif (rise.first_and_last or lift.own > 0) and rise.place < rise.place_before:
        yield _up(observation, _with(lanes, rise.others, lift.load_milli), lift, rise)


def _up(observation: Observation, level: Sequence[LaneState], lift: Lift, rise: _Rise) -> Cue:
    """A better place, alone or with those who have as much."""
    numbers = {"place": rise.place, "place_before": rise.place_before}
    if not level:
        return _lift_cue(observation, GOOD_LIFT, "lift_up", lift, **numbers)
    template = "lift_level_lead" if rise.place == 1 else "lift_level"
    return _lift_cue(observation, GOOD_LIFT, template, lift, level[0], other=level[0].entry.short, **numbers)


def _lead(observation: Observation, leaders: Sequence[LaneState], lift: Lift) -> Cue:
    """Tell of a new lead. If the lane that led is on a medical hold, only the new leader is named."""
    if leaders[0].conduct.held:
        return _lift_cue(observation, Kind.LEAD, "lead_lift_plain", lift)
    ahead = lift.load_milli - lift.top
    other = leaders[0].entry.short
    return _lift_cue(observation, Kind.LEAD, "lead_lift", lift, leaders[0], other=other, ahead_milli=ahead)


def _missed(observation: Observation, lanes: Sequence[LaneState], lift: Lift) -> Iterator[Cue]:
    """Tell of a miss that matters, where attempts are numbered and somebody can still lift."""
    allowed = observation.state.plan.total_done
    if allowed is None or not _somebody_can_lift(lanes):
        return
    said = _cost(lanes, lift, allowed - lift.number)
    if said is not None:
        yield _lift_cue(observation, MISSED_LIFT, said[0], lift, **said[1])


def _cost(lanes: Sequence[LaneState], lift: Lift, left: int) -> Said | None:
    """What a miss costs, given the attempts left: any result at all, the lead, or the last chance to raise it."""
    if lift.own == 0 and left <= 1:
        return _without_a_lift(lift, left)
    if lift.own >= lift.top and left == 0:
        return _leaders_last(lanes, lift)
    return ("miss_lead", {"left": left}) if lift.takes_lead else None


def _leaders_last(lanes: Sequence[LaneState], lift: Lift) -> Said | None:
    """The leader has lifted for the last time, and others have not."""
    others = (lane for lane in lanes if lane is not lift.lane)
    to_lift = sum(lane.status is Status.WORKING and not lane.conduct.held for lane in others)
    in_front = lift.lane.place == 1 and to_lift > 0
    return ("miss_leader_last", {"best_milli": lift.own, "to_lift": to_lift}) if in_front else None


def _without_a_lift(lift: Lift, left: int) -> Said | None:
    """The lane has no good lift yet, and one attempt left or none.

    A last chance is told only while it is still to come.
    """
    if left == 0:
        return "miss_no_lift", {}
    return ("miss_last_chance", {}) if lift.lane.tally.done == lift.number else None


def _on_the_bar(observation: Observation, lanes: Sequence[LaneState], lane: LaneState) -> Iterator[Cue]:
    """A declared attempt, not the opening one, that would give the lead to a lane with no share in it."""
    attempts = attempts_of(lane.tally)
    if lane.status is not Status.WORKING or not lane.tally.done or attempts[-1].made is not None:
        return
    others = {each.lane: each.outcome.score for each in lanes if each is not lane and each.status.has_result}
    top, load_milli = max(others.values(), default=0), attempts[-1].load_milli
    if load_milli > top > lane.outcome.score and not _with(lanes, others, top)[0].conduct.held:
        yield observation.cue(
            ON_THE_BAR,
            "on_the_bar",
            f"{lane.entry.id}/{len(attempts)}/{load_milli}",
            (lane,),
            at_ms=attempts[-1].at_ms,
            behind=lane.place - 1,
            name=lane.entry.short,
            load_milli=load_milli,
            ahead_milli=load_milli - top,
            unit=_unit(observation),
        )


def _win(observation: Observation, lanes: Sequence[LaneState], settled_ms: int) -> Iterator[Cue]:
    """Who has won, once nobody is left to lift: a lift declared in time may still be judged, and could be the win."""
    first, second = lanes[0], lanes[1]
    placed = [lane for lane in lanes if lane.status.has_result]
    open_milli = [attempts_of(lane.tally)[-1].load_milli for lane in placed if _is_open(lane)]
    judged_ms = max((lane.tally.reached_ms for lane in placed), default=0)
    at_ms = judged_ms if all(lane.outcome.reps_to_go == 0 for lane in placed) else max(observation.end_ms, judged_ms)
    if at_ms > settled_ms or max(open_milli, default=0) >= max(1, first.outcome.score):
        return
    load: dict[str, Value] = {"load_milli": first.outcome.score, "unit": _unit(observation)}
    ahead = first.outcome.score - second.outcome.score
    yield from won(
        observation,
        lanes,
        at_ms=at_ms,
        alone=("finish_lift", {**load, "ahead_milli": ahead}),
        level=("finish_lift_level", load),
    )


def _somebody_can_lift(lanes: Sequence[LaneState]) -> bool:
    return any(lane.status is Status.WORKING for lane in lanes)


def _is_open(lane: LaneState) -> bool:
    return bool(attempts_of(lane.tally)) and attempts_of(lane.tally)[-1].made is None


def _with(lanes: Sequence[LaneState], best: Mapping[int, int], load_milli: int) -> list[LaneState]:
    """The lanes that have this best load; those that may be named come first."""
    found = [lane for lane in lanes if best.get(lane.lane) == load_milli]
    return sorted(found, key=lambda lane: lane.conduct.held)


def _lift_cue(
    observation: Observation, kind: Kind, template: str, lift: Lift, *others: LaneState, **values: Value
) -> Cue:
    return observation.cue(
        kind,
        template,
        f"{lift.lane.entry.id}/{lift.number}",
        (lift.lane, *others),
        at_ms=lift.at_ms,
        behind=lift.lane.place - 1,
        name=lift.lane.entry.short,
        load_milli=lift.load_milli,
        unit=_unit(observation),
        **values,
    )


def _unit(observation: Observation) -> str:
    return rules_of(observation.state.event.workout).unit
