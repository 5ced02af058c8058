"""The moments of a recording that a rehearsal can go to: changes of the lead, finishes, no-reps, starts, and cues."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from tallywire.core.cues import CueDesk, Wording
from tallywire.core.cues.script import desks
from tallywire.core.cues.wording import say as cue_line
from tallywire.core.facts import Fact, HeatStarted
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.core.reports.moments import Moment, heat_moments
from tallywire.core.reports.say import Saying

_KINDS = {"lead": "lead", "finish": "finish", "no_rep": "no_rep", "start": "heat"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A moment of a heat in words, at a time on its clock; `kind` is cue, lead, finish, no_rep or heat (its start)."""

    heat: str
    at_ms: int
    kind: str
    line: str


def plain_moments(competition: Competition, facts: Sequence[Fact]) -> list[tuple[str, Moment]]:
    """Give every moment but the cues, with its heat: those can be read off the facts at once."""
    heats = CompetitionBook(competition, facts).at_clocks({}, others_ms=LATER_MS).heats
    return [
        (name, each)
        for name, heat in heats.items()
        if heat.started is not None
        for each in heat_moments(heat.state)
        if each.kind in _KINDS
    ]


def told(moments: Iterable[tuple[str, Moment]], say: Saying) -> list[Found]:
    """Give these moments in words."""
    return [Found(heat=heat, at_ms=each.at_ms, kind=_KINDS[each.kind], line=each.said(say)) for heat, each in moments]


def desks_of(competition: Competition, heat: str, facts: Sequence[Fact]) -> Iterator[tuple[int, CueDesk]]:
    """Give the cue desk of a heat at every second of its clock, with what it would have said by then."""
    starts = [fact.heat for fact in facts if isinstance(fact, HeatStarted)]
    before = set(starts[: starts.index(heat)]) if heat in starts else set()
    return desks(competition, heat, facts, earlier=[fact for fact in facts if fact.heat in before])


def cues_of(heat: str, steps: Iterable[tuple[int, CueDesk]], wording: Wording) -> list[Found]:
    """Give the cues that came up in these steps."""
    fresh = ((at_ms, cue) for at_ms, desk in steps for cue in desk.fresh)
    return [Found(heat=heat, at_ms=at_ms, kind="cue", line=cue_line(cue, wording)) for at_ms, cue in fresh]
