"""A run of no-reps on one lane, from the rises of its no-rep count."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.observation import Observation
from tallywire.core.fold import LaneState
from tallywire.core.formats.base import Status

Calls = Mapping[int, tuple[int, ...]]
"""By lane, for each no-rep in its order the heat clock at which it was first seen."""

AT_ONCE = 2
LONG_AGO_MS = -(10**9)
"""More no-reps at one look than a judge can call come from before it (a recording begun in the middle, a lane that was
cut off): when they were called is not known."""


def watch_no_reps(calls: Calls, observation: Observation) -> Calls:
    """Take the no-rep counts as of now; a call that was voided is forgotten."""
    now_ms = observation.clock_ms
    return {number: _seen(calls.get(number, ()), lane, now_ms) for number, lane in observation.state.lanes.items()}


def no_rep_cues(calls: Calls, observation: Observation, rules: CueRules) -> list[Cue]:
    """Give a cue for every lane at work with a run of no-reps that has not ended."""
    found: list[Cue] = []
    for number, lane in observation.state.lanes.items():
        run = [at_ms for at_ms in calls.get(number, ()) if at_ms > observation.clock_ms - rules.no_reps_within_ms]
        if lane.status is Status.WORKING and len(run) >= rules.no_reps:
            found.append(_run_cue(observation, lane, run))
    return found


def _seen(known: tuple[int, ...], lane: LaneState, now_ms: int) -> tuple[int, ...]:
    count = lane.tally.no_reps
    more = count - len(known)
    return known[:count] + (now_ms if more <= AT_ONCE else LONG_AGO_MS,) * more


def _run_cue(observation: Observation, lane: LaneState, run: list[int]) -> Cue:
    cue = observation.cue(
        Kind.NO_REPS,
        "no_reps",
        lane.entry.id,
        (lane,),
        at_ms=run[-1],
        behind=lane.place - 1,
        name=lane.entry.short,
        count=len(run),
        within_ms=observation.clock_ms - run[0],
        movement=lane.position.station.movement,
    )
    return replace(cue, since_ms=run[0])
