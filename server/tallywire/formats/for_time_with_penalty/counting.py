"""For time with a cap penalty: each scored rep left at the cap adds a fixed time to it, and all are ranked by time."""

from __future__ import annotations

from dataclasses import replace

from tallywire.core.formats.base import Limits, Outcome, Status, Tally
from tallywire.core.formats.counting import is_called
from tallywire.core.formats.fixed_work import fixed_work_outcome
from tallywire.core.formats.format import Counting
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan
from tallywire.formats.for_time_with_penalty.rules import rules_of


class PenaltyCounting(Counting):
    """Fixed work against the clock, with a penalty in time for what is left at the cap."""

    fastest_wins = True

    def awaits_call(self, _plan: Plan, tally: Tally) -> bool:
        """Until the judge's call, which counts where it comes."""
        return not is_called(tally)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """The same as for time, but those who are capped get the cap plus the penalty for every scored rep left.

        While the time runs, those who have not finished are placed behind those who have, by scored reps.
        """
        outcome = fixed_work_outcome(plan, tally, limits)
        if outcome.status is not Status.CAPPED:
            return outcome
        workout = plan.workout
        time = workout.time_cap_ms + rules_of(workout).each_ms * (outcome.reps_to_go or 0) + limits.penalty_ms
        shown = clock_text(time, decimals=workout.decimals, round_up=workout.round_up)
        return replace(outcome, key=(0, time), result=shown, result_ms=time)
