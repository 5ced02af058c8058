"""For time: fixed work, fastest wins. Who is not done at the cap is ranked by scored reps, below all who finished."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.facts import Fact
from tallywire.core.formats.base import Limits, Outcome, Status, Tally, open_status
from tallywire.core.formats.counting import finish_ms, tie_break_ms
from tallywire.core.formats.teams import count_team
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan, Workout


class ForTime:
    """Fixed work against the clock."""

    def plan(self, workout: Workout) -> Plan:
        """One lap of the rounds."""
        return Plan(workout, laps=1)

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Count work through the plan."""
        return count_team(plan, facts, until_ms=until_ms)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Finishers by time; the rest by scored reps, then by the tie-break time."""
        scored = max(0, plan.scored(tally.done) - limits.penalty_reps)
        to_go = (plan.total_scored or 0) - scored
        finish = finish_ms(plan, tally)
        if finish is not None and finish <= limits.until_ms:
            time = finish + limits.penalty_ms
            return Outcome(
                status=Status.FINISHED,
                key=(0, time),
                result=clock_text(time, decimals=plan.workout.decimals, round_up=plan.workout.round_up),
                result_ms=time,
                score=scored,
                scored_reps=scored,
                reps_to_go=to_go,
            )
        return Outcome(
            status=open_status(limits, Status.CAPPED),
            key=(1, -scored, tie_break_ms(plan, tally)),
            result=f"CAP+{to_go}" if limits.over else f"{scored} reps",
            score=scored,
            scored_reps=scored,
            reps_to_go=to_go,
        )
