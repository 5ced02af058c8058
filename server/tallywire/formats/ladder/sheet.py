"""The scoresheet of a ladder: each bar has to be done by the end of its window."""

from __future__ import annotations

from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Leg, Plan
from tallywire.core.reports.format_sheet import FormatSheet
from tallywire.formats.ladder.rules import rules_of


class LadderSheet(FormatSheet):
    """Station lines, with the time at which each window closes."""

    def note(self, plan: Plan, leg: Leg) -> str:
        """Say by when the bar has to be done."""
        closes_ms = (plan.legs.index(leg) + 1) * rules_of(plan.workout).window_ms
        return f"by {clock_text(closes_ms, decimals=0)}"
