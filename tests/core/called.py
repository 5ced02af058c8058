"""The call of a heat at any time, for tests: of the demo heat, or of any heat of facts."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from core.examples import competition_of, recorded
from tallywire.core.call.steps import make_quick_call, see
from tallywire.core.call.whole import listen, look_ahead, make_call
from tallywire.core.cues import CueDesk, Wording
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.core.views.heat import Frame
from tallywire.wire.cue_wording import default_wording

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SALTMARSH = competition_of("saltmarsh")
WOMEN = recorded("saltmarsh-women-2")
WORDING = default_wording()


def call(  # noqa: PLR0913
    work: Competition,
    facts: Iterable[Fact],
    heat: str,
    at_ms: int,
    *,
    quick: bool = False,
    wording: Wording = WORDING,
) -> Frame:
    """The call of a heat at a time, by a desk that has just been opened. Other heats are long over."""
    known = [fact for fact in facts if fact.heat != heat or fact.at_ms <= at_ms]
    snapshot = CompetitionBook(work, known).at_clocks({heat: at_ms}, others_ms=10**9)
    sight = see(snapshot, snapshot.heats[heat])
    outlook = None if quick else look_ahead(work, sight)
    desk = listen(work, CueDesk(), sight, outlook)
    if quick:
        return make_quick_call(work, sight, desk=desk, wording=wording)
    return make_call(work, sight, outlook, desk=desk, wording=wording)


def women(at_ms: int, *more: Fact, quick: bool = False) -> Frame:
    """The demo heat."""
    return call(SALTMARSH, [*WOMEN, *more], "women-2", at_ms, quick=quick)
