"""What each fact says in the story of a heat: the words after the name of whoever sent it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tallywire.core.facts import (
    AppealDecided,
    AttemptDeclared,
    AttemptFailed,
    AttemptMade,
    BlockCompleted,
    CountCorrected,
    DidNotStart,
    Disqualified,
    Exchanged,
    Fact,
    FactVoided,
    Finished,
    HeatCalled,
    HeatEnded,
    HeatRecalled,
    HeatSigned,
    HeatStarted,
    HoldPlaced,
    HoldReleased,
    NoRepCalled,
    NoteMarked,
    NoteSent,
    PenaltyGiven,
    PointsDeducted,
    RepCounted,
    SheetChecked,
    Withdrawn,
)
from tallywire.core.facts.ledger import lane_of
from tallywire.core.model.loads import load_text
from tallywire.core.model.timetext import clock_text
from tallywire.core.reports.say import Saying


def plain(text: str) -> str:
    """Give a text that people wrote without letters that would do something to a terminal."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _penalty(fact: PenaltyGiven, say: Saying, lane: str) -> str:
    reps = say("shared.reps", n=fact.reps) if fact.reps else ""
    time = say("shared.second_unit", time=f"{fact.ms / 1000:g}") if fact.ms else ""
    amount = say("story.both", one=reps, other=time) if reps and time else reps or time or say("story.nothing")
    return say("story.penalty", lane=lane, amount=amount)


def _deducted(fact: PointsDeducted, say: Saying, lane: str) -> str:
    return say("story.deducted", points=say("shared.points", n=fact.points), lane=lane)


def _appeal(fact: AppealDecided, say: Saying, lane: str) -> str:
    return say("story.appeal_granted" if fact.upheld else "story.appeal_refused", by=plain(fact.by), lane=lane)


def _note(fact: NoteSent, say: Saying, lane: str) -> str:
    told = {"spotter": plain(fact.spotter), "text": plain(fact.text)}
    return say("story.note_about", lane=lane, **told) if lane else say("story.note", **told)


def _mark(fact: NoteMarked, say: Saying, lane: str) -> str:
    item = plain(fact.item)
    if lane:
        return say(f"story.mark_about.{fact.mark}", item=item, lane=lane)
    return say(f"story.mark.{fact.mark}", item=item)


def _load(fact: AttemptDeclared) -> str:
    return load_text(fact.load_milli, "").strip()


WORDS: Mapping[type[Fact], Callable[[Any, Saying, str], str]] = {
    HeatCalled: lambda _, say, _lane: say("story.called"),
    HeatStarted: lambda _, say, _lane: say("story.started"),
    HeatRecalled: lambda _, say, _lane: say("story.recalled"),
    HeatEnded: lambda _, say, _lane: say("story.ended"),
    HeatSigned: lambda fact, say, _lane: say("story.signed", by=plain(fact.by)),
    RepCounted: lambda fact, say, lane: say("story.counted", amount=say("shared.reps", n=fact.n), lane=lane),
    BlockCompleted: lambda _, say, lane: say("story.block", lane=lane),
    NoRepCalled: lambda _, say, lane: say("story.no_rep", lane=lane),
    CountCorrected: lambda fact, say, lane: say("story.corrected", lane=lane, count=fact.scored_reps),
    Finished: lambda fact, say, lane: say("story.finished", lane=lane, time=clock_text(fact.at_ms, decimals=1)),
    AttemptDeclared: lambda fact, say, lane: say("story.declared", lane=lane, load=_load(fact)),
    AttemptMade: lambda _, say, lane: say("story.lift_good", lane=lane),
    AttemptFailed: lambda _, say, lane: say("story.lift_none", lane=lane),
    Exchanged: lambda fact, say, lane: say("story.exchanged", lane=lane, member=fact.member),
    Withdrawn: lambda _, say, lane: say("story.withdrew", lane=lane),
    DidNotStart: lambda _, say, lane: say("story.absent", lane=lane),
    Disqualified: lambda _, say, lane: say("story.disqualified", lane=lane),
    PenaltyGiven: _penalty,
    PointsDeducted: _deducted,
    HoldPlaced: lambda _, say, lane: say("story.hold", lane=lane),
    HoldReleased: lambda _, say, lane: say("story.released", lane=lane),
    SheetChecked: lambda fact, say, lane: say("story.sheet", lane=lane, by=plain(fact.by)),
    AppealDecided: _appeal,
    NoteSent: _note,
    NoteMarked: _mark,
}


def words_of(fact: Fact, say: Saying, *, lane_name: Callable[[int], str], known: Mapping[str, Fact]) -> str:
    """Say what a fact did. `known` has the facts by id, so that a void can say what it struck."""
    lane = lane_of(fact)
    if isinstance(fact, FactVoided):
        struck = known.get(fact.voids)
        if struck is None:
            what = say("story.took_nothing")
        else:
            what = say("story.took_back", what=words_of(struck, say, lane_name=lane_name, known={}))
    else:
        what = WORDS[type(fact)](fact, say, "" if lane is None else lane_name(lane))
    reason = getattr(fact, "reason", "")
    return say("story.because", what=what, reason=plain(reason)) if reason else what
