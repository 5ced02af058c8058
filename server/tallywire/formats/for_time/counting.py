"""For time: fixed work, the fastest wins. Those not done at the cap are ranked by scored reps, below all finishers."""

from __future__ import annotations

from tallywire.core.formats.base import Limits, Outcome, Tally
from tallywire.core.formats.counting import is_called
from tallywire.core.formats.fixed_work import fixed_work_outcome
from tallywire.core.formats.format import Counting
from tallywire.core.model.workout import Plan


class ForTimeCounting(Counting):
    """Fixed work against the clock."""

    fastest_wins = True

    def awaits_call(self, _plan: Plan, tally: Tally) -> bool:
        """Until the judge's call, which counts where it comes."""
        return not is_called(tally)

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Rank finishers by time, and the rest by scored reps, then by the tie-break time."""
        return fixed_work_outcome(plan, tally, limits)
