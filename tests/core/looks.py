"""What the desk says of a heat alone, second by second: no overall standing and no forecast beside it.

`cue_script` works out both for every second, which takes longer than all the rest; tests of either ask it itself.
"""

from __future__ import annotations

from collections.abc import Iterable

from core.samples import HEAT
from tallywire.core.cues import Cue, CueDesk, CueRules, Observation, cues
from tallywire.core.cues.desk import AFTER_MS
from tallywire.core.cues.script import STEP_MS
from tallywire.core.facts import Fact
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.model.competition import Competition


def heat_script(
    competition: Competition, facts: Iterable[Fact], *, rules: CueRules | None = None
) -> list[tuple[int, Cue]]:
    """Give every cue with the heat clock at which it came up, looking at the heat once a second."""
    book, desk = HeatBook(competition, competition.heats[HEAT]), CueDesk(rules=rules or CueRules())
    coming = sorted(facts, key=lambda fact: fact.order, reverse=True)
    script: list[tuple[int, Cue]] = []
    for clock_ms in range(STEP_MS, coming[0].at_ms + AFTER_MS + 1, STEP_MS):
        while coming and coming[-1].at_ms <= clock_ms:
            book.add(coming.pop())
        desk = cues(desk, Observation(state=book.at(clock_ms).state))
        script += [(clock_ms, cue) for cue in desk.fresh]
    return script
