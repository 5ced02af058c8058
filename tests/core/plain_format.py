"""The smallest format there can be: it says how a tally is judged, and nothing else."""

from __future__ import annotations

from tallywire.core.formats.base import Limits, Outcome, Status, Tally, open_status
from tallywire.core.formats.format import Counting, Format
from tallywire.core.model.workout import Plan


class PlainCounting(Counting):
    """More units of work place better."""

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """By units done."""
        scored = plan.scored(tally.done)
        status = open_status(limits, Status.TIMED)
        return Outcome(status=status, key=(-tally.done,), result=f"{scored} reps", score=scored, scored_reps=scored)


FORMAT = Format("plain", PlainCounting())
