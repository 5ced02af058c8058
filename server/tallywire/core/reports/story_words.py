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


def plain(text: str) -> str:
    """Give a text that people wrote without letters that would do something to a terminal."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def some(count: int, one: str, many: str | None = None) -> str:
    """Write a number with its noun: 1 rep, 3 reps."""
    return f"{count} {one if count == 1 else many or f'{one}s'}"


def _because(reason: str) -> str:
    return f": {plain(reason)}" if reason else ""


def _penalty(fact: PenaltyGiven) -> str:
    parts = [some(fact.reps, "rep") if fact.reps else "", f"{fact.ms / 1000:g} s" if fact.ms else ""]
    return f"gave {{lane}} a penalty of {' and '.join(filter(None, parts)) or 'nothing'}{_because(fact.reason)}"


def _appeal(fact: AppealDecided) -> str:
    verdict = "granted" if fact.upheld else "turned down"
    return f"noted the decision of {plain(fact.by)}: the appeal about {{lane}} is {verdict}{_because(fact.reason)}"


def _note(fact: NoteSent) -> str:
    about = "" if fact.lane is None else "about {lane} "
    return f"told the booth {about}as {plain(fact.spotter)}: {plain(fact.text)}"


_MARKED = {"pinned": "pinned", "dismissed": "dismissed", "open": "put back"}


def _mark(fact: NoteMarked) -> str:
    about = "" if fact.lane is None else " about {lane}"
    return f"{_MARKED[fact.mark]} note {plain(fact.item)}{about} in the booth"


WORDS: Mapping[type[Fact], Callable[[Any], str]] = {
    HeatCalled: lambda _: "called the heat to the floor",
    HeatStarted: lambda _: "started the heat",
    HeatRecalled: lambda fact: f"called the heat back{_because(fact.reason)}",
    HeatEnded: lambda _: "ended the heat",
    HeatSigned: lambda fact: f"had the result signed by {plain(fact.by)}",
    RepCounted: lambda fact: f"counted {some(fact.n, 'rep')} for {{lane}}",
    BlockCompleted: lambda _: "counted a whole block for {lane}",
    NoRepCalled: lambda fact: f"called a no-rep on {{lane}}{_because(fact.reason)}",
    CountCorrected: lambda fact: f"set the count of {{lane}} to {fact.scored_reps}{_because(fact.reason)}",
    Finished: lambda fact: f"called the finish of {{lane}} at {clock_text(fact.at_ms, decimals=1)}",
    AttemptDeclared: lambda fact: f"declared {load_text(fact.load_milli, '').strip()} for {{lane}}",
    AttemptMade: lambda _: "judged the lift of {lane} good",
    AttemptFailed: lambda fact: f"judged the lift of {{lane}} no lift{_because(fact.reason)}",
    Exchanged: lambda fact: f"passed the turn on {{lane}} to member {fact.member}",
    Withdrawn: lambda fact: f"withdrew {{lane}}{_because(fact.reason)}",
    DidNotStart: lambda _: "noted that {lane} did not start",
    Disqualified: lambda fact: f"disqualified {{lane}}{_because(fact.reason)}",
    PenaltyGiven: _penalty,
    PointsDeducted: lambda fact: f"took {some(fact.points, 'point')} from {{lane}}{_because(fact.reason)}",
    HoldPlaced: lambda _: "placed a medical hold on {lane}",
    HoldReleased: lambda _: "released the medical hold on {lane}",
    SheetChecked: lambda fact: f"noted that the scoresheet of {{lane}} agrees, compared by {plain(fact.by)}",
    AppealDecided: _appeal,
    NoteSent: _note,
    NoteMarked: _mark,
}


def words_of(fact: Fact, *, lane_name: Callable[[int], str], known: Mapping[str, Fact]) -> str:
    """Say what a fact did. `known` has the facts by id, so that a void can say what it struck."""
    if isinstance(fact, FactVoided):
        struck = known.get(fact.voids)
        if struck is None:
            return f"took back something that is not in the record{_because(fact.reason)}"
        return f"took back “{words_of(struck, lane_name=lane_name, known={})}”{_because(fact.reason)}"
    said = WORDS[type(fact)](fact)
    # A reason may have braces in it: only the one place is filled.
    lane = lane_of(fact)
    return said if lane is None else said.replace("{lane}", lane_name(lane), 1)
