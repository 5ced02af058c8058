"""The scoresheet of a ladder: each bar has to be done by the end of its window."""

from __future__ import annotations

import re

from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Leg, Plan
from tallywire.core.reports.format_sheet import FormatSheet
from tallywire.core.reports.say import Saying
from tallywire.formats.ladder.rules import rules_of

_BARS = re.compile(r"(\d+) bars?( \+ \d+)?")


class LadderSheet(FormatSheet):
    """Station lines, with the time at which each window closes."""

    def note(self, plan: Plan, leg: Leg, say: Saying) -> str:
        """Say by when the bar has to be done."""
        closes_ms = (plan.legs.index(leg) + 1) * rules_of(plan.workout).window_ms
        return say("paper.ladder.by", time=clock_text(closes_ms, decimals=0))

    def result(self, result: str, say: Saying) -> str:
        """Give bars, and the lifts on the next, in words."""
        bars = _BARS.fullmatch(result)
        return say("ladder.bars", n=int(bars[1])) + (bars[2] or "") if bars else result


FACET = LadderSheet()
