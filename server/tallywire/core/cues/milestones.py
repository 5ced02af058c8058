"""Cues that can be read from the state of the heat itself: withdrawals, time up, and what the format adds.

They need no memory: the same state gives the same cues, so a correction takes back the cues that it makes untrue.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tallywire.core.cues.cue import Cue, CueRules, Kind, Value
from tallywire.core.cues.format_cues import cues_of
from tallywire.core.cues.observation import Observation
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status


def milestones(observation: Observation, rules: CueRules) -> list[Cue]:
    """Give all of these cues, however long ago they happened."""
    found: list[Cue] = []
    for lanes in observation.ranked().values():
        found += _withdrawals(observation, lanes)
        found += cues_of(observation).milestones(observation, rules, lanes)
        found += _time_up(observation, lanes)
    return [replace(cue, lasting=True) for cue in found]


def _withdrawals(observation: Observation, lanes: list[LaneState]) -> Iterator[Cue]:
    for lane in lanes:
        at_ms = lane.conduct.withdrawn_ms
        if lane.status is Status.WITHDRAWN and at_ms is not None:
            rounds: dict[str, Value] = {"round": lane.position.round, "reps": lane.outcome.scored_reps}
            numbers = rounds if observation.is_counted else {}
            yield observation.cue(
                Kind.WITHDRAWAL,
                "withdrawal" if observation.is_counted else "withdrawal_plain",
                lane.entry.id,
                (lane,),
                at_ms=at_ms,
                behind=0,
                name=lane.entry.short,
                **numbers,
            )


def _time_up(observation: Observation, lanes: list[LaneState]) -> Iterator[Cue]:
    """For each division, how many lanes are short of the finish, and which of them came closest."""
    capped = [lane for lane in lanes if lane.status is Status.CAPPED]
    cap_ms = observation.state.event.workout.time_cap_ms
    if capped and observation.clock_ms >= cap_ms:
        best = min(capped, key=lambda lane: (lane.outcome.reps_to_go or 0, lane.lane))
        yield observation.cue(
            Kind.TIME_UP,
            "time_up",
            best.entry.division,
            (best,),
            at_ms=cap_ms,
            name=best.entry.short,
            capped=len(capped),
            to_go=best.outcome.reps_to_go or 0,
        )
