"""For time with a cap penalty: each scored rep left at the cap adds a fixed time to it, and all are ranked by time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tallywire.core.facts import Fact
from tallywire.core.formats.base import Limits, Outcome, Status, Tally
from tallywire.core.formats.for_time import ForTime
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan, Workout


class PenalisedForTime:
    """Fixed work against the clock; the cap costs time for what is left."""

    def __init__(self) -> None:
        self._for_time = ForTime()

    def plan(self, workout: Workout) -> Plan:
        """One lap of the rounds."""
        return self._for_time.plan(workout)

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Count work through the plan."""
        return self._for_time.tally(plan, facts, until_ms=until_ms)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """As for time, but who is capped gets the cap plus the penalty for every scored rep left.

        While the time runs, who has not finished stands behind who has, by scored reps.
        """
        outcome = self._for_time.outcome(plan, tally, limits)
        if outcome.status is not Status.CAPPED:
            return outcome
        workout = plan.workout
        time = workout.time_cap_ms + workout.cap_penalty_ms * (outcome.reps_to_go or 0) + limits.penalty_ms
        shown = clock_text(time, decimals=workout.decimals, round_up=workout.round_up)
        return replace(outcome, key=(0, time), result=shown, result_ms=time)
