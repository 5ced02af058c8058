"""Rising bars, made up: every bar is harder, and whoever cannot do one in its window is out."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.facts import AttemptFailed, AttemptMade
from tallywire.core.made_up.format_work import Bout, Draft, FormatWork
from tallywire.formats.ladder.rules import rules_of

FIRST_BAR, LAST_BAR = 0.01, 0.6
"""The chance of a miss on the first bar and on the last, for usual skill (common practice, no source)."""


class LadderWork(FormatWork):
    """What is lifted at the bars."""

    def drafts(self, bout: Bout) -> Iterator[Draft]:
        """Give one lane's lifts, up to a window in which it did not lift all."""
        bars, window_ms = bout.workout.rounds[0], rules_of(bout.workout).window_ms
        for number, bar in enumerate(bars):
            share = number / max(1, len(bars) - 1)
            miss = min(0.95, (FIRST_BAR + (LAST_BAR - FIRST_BAR) * share**2) / bout.athlete.skill**4)
            at_ms, end_ms, made = number * window_ms + bout.between(0.1, 0.25) * window_ms, (number + 1) * window_ms, 0
            while made < bar.amount and at_ms < end_ms - 500:
                good = bout.dice.random() >= miss
                made += good
                yield (AttemptMade if good else AttemptFailed), at_ms, {}
                at_ms += bout.between(0.15, 0.3) * window_ms / bar.amount * (1 if good else 2)
            if made < bar.amount:
                return


FACET = LadderWork()
