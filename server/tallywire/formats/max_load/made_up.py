"""Lifts, made up: an opener that is likely, then jumps that are less so."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.facts import AttemptDeclared, AttemptFailed, AttemptMade
from tallywire.core.made_up.format_work import Bout, Draft, FormatWork
from tallywire.formats.max_load.rules import rules_of

OPENER = 95_000
"""What somebody of usual skill begins with, in thousandths (common practice, no source)."""
STEP = 1_000
GOOD = 0.88
LESS_EACH = 0.18
"""The chance of the first attempt, and how much less likely each attempt after a good one is."""
MOST = 8


class LiftWork(FormatWork):
    """What is lifted."""

    def drafts(self, bout: Bout) -> Iterator[Draft]:
        """Give one lane's attempts, spread over the time that there is."""
        rules, cap_ms = rules_of(bout.workout), bout.workout.time_cap_ms
        attempts = rules.attempts or min(MOST, max(1, cap_ms // 60_000))
        load = max(rules.bar_milli, round(OPENER * bout.athlete.skill / STEP) * STEP)
        chance, every_ms = GOOD, cap_ms / attempts
        for attempt in range(attempts):
            begin_ms = every_ms * (attempt + bout.between(0.1, 0.4))
            yield AttemptDeclared, begin_ms, {"load_milli": load}
            good = bout.dice.random() < chance
            yield (AttemptMade if good else AttemptFailed), begin_ms + bout.between(0.1, 0.3) * every_ms, {}
            if good:
                load, chance = load + round(bout.between(2, 6)) * STEP, chance - LESS_EACH


FACET = LiftWork()
