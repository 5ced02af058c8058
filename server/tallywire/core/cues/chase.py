"""Who is catching whom, and who is in danger of the cap: what follows if the present rates hold.

Both rates look back over one round, because a round is the shortest stretch in which everybody does the same work: the
gap in seconds at the chaser's last rep against the gap one round of work earlier, and the time a lane took for its last
round of work against what is left. Both rest on facts alone. Nothing is said of a lane before it has completed a full
round.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.observation import Observation
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.gaps.gaps import behind_at, gap_at, work_ms
from tallywire.core.gaps.path import Path, Precision, lane_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Chase:
    """A chaser closing in: `gap_ms` behind now, `was_ms` behind one round of work ago, level in `catch_ms`."""

    gap_ms: int
    was_ms: int
    span_ms: int

    @property
    def catch_ms(self) -> int:
        """How long until they are level if the gap goes on closing as it did."""
        return round(self.gap_ms * self.span_ms / (self.was_ms - self.gap_ms))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chases:
    """The heat clock at which each chase, by (chaser, ahead), and each lane's cap danger began."""

    pairs: Mapping[tuple[int, int], int] = field(default_factory=dict)
    caps: Mapping[int, int] = field(default_factory=dict)


def chase(state: HeatState, chaser: LaneState, ahead: LaneState) -> Chase | None:
    """Compare the gap in seconds now with that of one round of work ago; None where either is not known exactly."""
    paths = (lane_path(state, chaser), lane_path(state, ahead))
    point = chaser.tally.done
    then = point - _round_units(state)
    if then <= 0:
        return None
    now, before = gap_at(*paths, state.clock_ms), behind_at(*paths, then)
    if now is None or before is None or Precision.AT_LAST_MARK in (now.precision, before.precision):
        return None
    span_ms = state.clock_ms - _passed_ms(paths[0], then)
    if not 0 < now.behind_ms < before.behind_ms:
        return None
    return Chase(gap_ms=now.behind_ms, was_ms=before.behind_ms, span_ms=span_ms)


def neighbours(state: HeatState) -> list[tuple[LaneState, LaneState]]:
    """Give each lane at work with the one at work just ahead of it in its division, unless they share the place."""
    working = [lane for lane in map(state.lanes.__getitem__, state.order) if lane.status is Status.WORKING]
    divisions = dict.fromkeys(lane.entry.division for lane in working)
    groups = [[lane for lane in working if lane.entry.division == division] for division in divisions]
    pairs = [(behind, ahead) for group in groups for ahead, behind in pairwise(group)]
    return [(behind, ahead) for behind, ahead in pairs if ahead.place < behind.place]


def expected_finish_ms(state: HeatState, lane: LaneState) -> int | None:
    """When a lane will finish at the pace of its last round; None before a full round, or for work without an end."""
    total, done = state.plan.total_done, lane.tally.done
    then = done - _round_units(state)
    if total is None or then < 0:
        return None
    spent_ms = lane.tally.reached_ms - _passed_ms(lane_path(state, lane), then)
    plan = state.plan
    rate = spent_ms / max(1, work_ms(plan, done) - work_ms(plan, then))
    return max(state.clock_ms, lane.tally.reached_ms + round(rate * (work_ms(plan, total) - work_ms(plan, done))))


def watch_chases(chases: Chases, observation: Observation, rules: CueRules) -> tuple[Chases, list[Cue]]:
    """Note the chases and cap dangers of this moment, and give cues for those that have lasted long enough."""
    pairs, pair_cues = _watch_pairs(chases.pairs, observation, rules)
    caps, cap_cues = _watch_caps(chases.caps, observation, rules)
    return Chases(pairs=pairs, caps=caps), pair_cues + cap_cues


def is_over(cue: Cue, state: HeatState) -> bool:
    """Tell whether a cue speaks of a chase in which the two are level by now, inside a block say, or have passed."""
    if cue.kind is not Kind.CATCHING:
        return False
    chaser, ahead = (state.lanes[lane] for lane in cue.lanes)
    return chaser.place <= ahead.place


def _watch_pairs(
    known: Mapping[tuple[int, int], int], observation: Observation, rules: CueRules
) -> tuple[dict[tuple[int, int], int], list[Cue]]:
    """A chase begins when it is worth telling and lasts as long as the gap closes at all."""
    pairs: dict[tuple[int, int], int] = {}
    cues: list[Cue] = []
    for chaser, ahead in neighbours(observation.state):
        pair, found = (chaser.lane, ahead.lane), chase(observation.state, chaser, ahead)
        if found is None or (pair not in known and not _worth_telling(observation, found, ahead, rules)):
            continue
        pairs[pair] = known.get(pair, observation.clock_ms)
        held = observation.clock_ms - pairs[pair] >= rules.holds_ms
        if held and _worth_telling(observation, found, ahead, rules):
            cues.append(_chase_cue(observation, chaser, ahead, found, pairs[pair]))
    return pairs, cues


def _watch_caps(
    known: Mapping[int, int], observation: Observation, rules: CueRules
) -> tuple[dict[int, int], list[Cue]]:
    """Danger begins in the second half of the time, a margin beyond the cap, and ends a margin inside it."""
    cap_ms = observation.state.event.workout.time_cap_ms
    caps: dict[int, int] = {}
    cues: list[Cue] = []
    for lane in observation.working():
        home_ms = observation.expected_ms.get(lane.lane) or expected_finish_ms(observation.state, lane)
        if home_ms is None or 2 * observation.clock_ms < cap_ms:
            continue
        over_ms = home_ms - cap_ms
        danger = rules.cap_margin_ms <= over_ms <= rules.cap_reach_ms
        if danger or (lane.lane in known and over_ms > -rules.cap_margin_ms):
            caps[lane.lane] = known.get(lane.lane, observation.clock_ms)
            if danger and observation.clock_ms - caps[lane.lane] >= rules.holds_ms:
                cues.append(_cap_cue(observation, lane, over_ms, caps[lane.lane]))
    return caps, cues


def _worth_telling(observation: Observation, found: Chase, ahead: LaneState, rules: CueRules) -> bool:
    """Whether the gap is small, closing fast enough, and gone before the one ahead finishes."""
    home_ms = expected_finish_ms(observation.state, ahead)
    in_time = home_ms is None or found.catch_ms < home_ms - observation.clock_ms
    close = found.gap_ms <= rules.chase_within_ms and found.was_ms - found.gap_ms >= rules.chase_cut_ms
    return close and in_time and found.catch_ms <= rules.catch_within_ms


def _chase_cue(observation: Observation, chaser: LaneState, ahead: LaneState, found: Chase, since_ms: int) -> Cue:
    cue = observation.cue(
        Kind.CATCHING,
        "catching_leader" if ahead.place == 1 and not ahead.place_shared else "catching",
        f"{chaser.entry.id}/{ahead.entry.id}",
        (chaser, ahead),
        behind=ahead.place - 1,
        name=chaser.entry.short,
        ahead=ahead.entry.short,
        place_ahead=ahead.place,
        gap_ms=found.gap_ms,
        was_ms=found.was_ms,
        catch_ms=found.catch_ms,
    )
    return replace(cue, since_ms=since_ms)


def _cap_cue(observation: Observation, lane: LaneState, over_ms: int, since_ms: int) -> Cue:
    cue = observation.cue(
        Kind.CAP_DANGER,
        "cap_danger_forecast" if lane.lane in observation.expected_ms else "cap_danger",
        lane.entry.id,
        (lane,),
        behind=lane.place - 1,
        name=lane.entry.short,
        over_ms=over_ms,
        to_go=lane.outcome.reps_to_go or 0,
        left_ms=observation.state.event.workout.time_cap_ms - observation.clock_ms,
    )
    return replace(cue, since_ms=since_ms)


def _round_units(state: HeatState) -> int:
    """The units of one round: the average where rounds differ."""
    return state.plan.lap_done // state.plan.rounds_a_lap


def _passed_ms(path: Path, point: int) -> int:
    found = path.passed(point)
    assert found is not None, "the point lies before one the path has passed"
    return found[0]
