"""For time: fixed work, fastest wins. Who is not done at the cap is ranked by scored reps, below all who finished."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.facts import Fact
from tallywire.core.formats.base import Limits, Outcome, Status, Tally
from tallywire.core.formats.counting import count_work, finish_ms, tie_break_ms
from tallywire.core.timetext import clock_text
from tallywire.core.workout import Plan, Workout


class ForTime:
    """Fixed work against the clock."""

    def plan(self, workout: Workout) -> Plan:
        """One lap of the rounds."""
        return Plan(workout, laps=1)

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Count work through the plan."""
        return count_work(plan, facts, until_ms=until_ms)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Finishers by time; the rest by scored reps, then by the tie-break time; the withdrawn last."""
        scored = plan.scored(tally.done)
        finish = finish_ms(plan, tally)
        if tally.withdrawn_ms is not None:
            return Outcome(status=Status.WITHDRAWN, key=(2,), result="WD")
        if finish is not None and finish <= limits.until_ms:
            return Outcome(status=Status.FINISHED, key=(0, finish), result=clock_text(finish), result_ms=finish)
        key = (1, -scored, tie_break_ms(plan, tally))
        if limits.over:
            to_go = (plan.total_scored or 0) - scored
            return Outcome(status=Status.CAPPED, key=key, result=f"CAP+{to_go}")
        status = Status.WORKING if limits.started else Status.READY
        return Outcome(status=status, key=key, result=f"{scored} reps")
