"""What the random run leaves out until it is mended or decided, each with its reason: one table.

An exclusion looks at a drawn case and gives the lines that may stay, and may change the competition in place. Every one
of them has a case in `known/`, so that the day it is mended a strict xfail turns red and the line below is taken out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from oracle.counted import Fact

Competition = dict[str, Any]
LeaveOut = Callable[[Competition, list[Fact]], list[Fact]]

EXCLUDED: dict[str, tuple[str, LeaveOut]] = {}
"""By the name of the case in `known/`: why, and what leaves it out of the random run. Nothing is left out now.

Where docs/scoring.md says little the oracle goes along with the program: taps and no-reps after a withdrawal do not
count; `block_completed` does nothing at a station of units; `n` runs on into the next station; a correction to the
number that stands keeps a block begun; a lower number takes what was reached before away from `reps_at`; a heat is
over when it was ended or its recording is past the cap; who was cut is compared by the last event it was in; at max
load attempts beyond the number allowed are passed over; a disqualification stands before a did-not-start, and that
before a withdrawal.
"""


def left_out(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Give a case without what is excluded."""
    for _, leave_out in EXCLUDED.values():
        lines = leave_out(competition, lines)
    return lines
