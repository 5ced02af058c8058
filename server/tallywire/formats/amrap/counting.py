"""As many repetitions as possible: fixed time, most work wins."""

from __future__ import annotations

from tallywire.core.formats.base import Limits, Outcome, Status, Tally, open_status, reps_text
from tallywire.core.formats.counting import tie_break_ms
from tallywire.core.formats.format import Counting
from tallywire.core.model.workout import Plan, Workout


class AmrapCounting(Counting):
    """The rounds repeat until the time is up."""

    def plan(self, workout: Workout) -> Plan:
        """Repeat the rounds without end."""
        return Plan(workout, laps=None)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Rank by scored reps, then by the tie-break time."""
        scored = max(0, plan.scored(tally.done) - limits.penalty_reps)
        return Outcome(
            status=open_status(limits, Status.TIMED),
            key=(1, -scored, tie_break_ms(plan, tally)),
            result=reps_text(scored),
            score=scored,
            scored_reps=scored,
        )
