"""A run of no-reps on one lane."""

from __future__ import annotations

from dataclasses import replace

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.format_cues import cues_of
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.fold.heat import LaneState

LEAST_APART_MS = 500
"""No judge calls no-reps faster: times closer together are not those of the calls (common practice, no source)."""


def no_rep_cues(observation: Observation, rules: CueRules) -> list[Cue]:
    """Give a cue for every working lane whose run of no-reps goes on, unless the format has its own cues for that."""
    found: list[Cue] = []
    own = cues_of(observation)
    for lane in observation.working():
        run = [at_ms for at_ms in lane.tally.no_reps_ms if at_ms > observation.clock_ms - rules.no_reps_within_ms]
        if len(run) >= rules.no_reps and run[-1] - run[0] >= LEAST_APART_MS * (len(run) - 1):
            said = own.misses(observation, lane)
            found += [] if said is None else [_run_cue(observation, lane, run, said)]
    return found


def _run_cue(observation: Observation, lane: LaneState, run: list[int], said: Said) -> Cue:
    template, where = said
    cue = observation.cue(
        Kind.NO_REPS,
        template,
        lane.entry.id,
        (lane,),
        at_ms=run[-1],
        behind=lane.place - 1,
        name=lane.entry.short,
        count=len(run),
        within_ms=run[-1] - run[0],
        **where,
    )
    return replace(cue, since_ms=run[0])
