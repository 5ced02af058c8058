"""Fixed work against the clock: the outcome of a lane, whether it has done all of the work or not."""

from __future__ import annotations

from tallywire.core.formats.base import Limits, Outcome, Status, Tally, open_status, reps_text
from tallywire.core.formats.counting import finish_ms, tie_break_ms
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan


def fixed_work_outcome(plan: Plan, tally: Tally, limits: Limits) -> Outcome:
    """Place finishers by time, and the rest below all of them by scored reps, then by the tie-break time."""
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
        result=f"CAP+{to_go}" if limits.over else reps_text(scored),
        score=scored,
        scored_reps=scored,
        reps_to_go=to_go,
    )
