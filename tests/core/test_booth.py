"""The booth: which notes stand, how they are marked, what its view shows, and that nothing of it touches a count."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import HEAT, Pad, competition
from tallywire.core.facts import BoothFact, Fact, FactVoided, HoldPlaced, HoldReleased, NoteMarked, NoteSent
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.booth import NOTHING, BoothMark, BoothState
from tallywire.core.model.competition import Briefing
from tallywire.core.views.booth import NOTES_MOST, booth_frame, spotters_frame
from tallywire.core.views.heat import heat_frame

ZERO = 1_800_000_000_000
KNOWN = replace(
    competition(),
    briefings={
        "e1": Briefing(say="EN-tree", facts=("Won here", "Came back"), caution="the fall"),
        "e2": Briefing(ipa="ˈɛntri", age_class="40 to 44"),
    },
)


def note(sequence: int, *, at_ms: int = 0, lane: int | None = None, sender: str = "spotter-a", **more: Any) -> NoteSent:
    """A note, sent `at_ms` after the start."""
    own: dict[str, Any] = {"id": f"{sender}.{sequence}", "text": f"note {sequence}", "spotter": "Ada", **more}
    stamp: dict[str, Any] = {
        "heat": HEAT,
        "at_ms": max(at_ms, 0),
        "unix_ms": ZERO + at_ms,
        "sender": sender,
        "sequence": sequence,
    }
    return NoteSent(lane=lane, **stamp, **own)


def marked(sequence: int, item: str, mark: str, *, at_ms: int = 0, sender: str = "commentator-a") -> NoteMarked:
    """A mark of a note or of a fact of the file."""
    stamp: dict[str, Any] = {"id": f"{sender}.{sequence}", "heat": HEAT, "at_ms": max(at_ms, 0), "sender": sender}
    return NoteMarked(item=item, mark=mark, unix_ms=ZERO + at_ms, sequence=sequence, **stamp)


def void(sequence: int, of: Fact, *, lane: int | None = None, sender: str = "spotter-a", at_ms: int = 0) -> FactVoided:
    """A void of a fact."""
    stamp: dict[str, Any] = {
        "id": f"{sender}.{sequence}",
        "heat": HEAT,
        "at_ms": at_ms,
        "sender": sender,
        "sequence": sequence,
    }
    return FactVoided(voids=of.id, lane=lane, **stamp)


def booth(*facts: Fact) -> BoothState:
    """The booth of the heat after these facts."""
    return CompetitionBook(KNOWN, facts).at(unix_ms=ZERO).booth.get(HEAT, NOTHING)


def frame(*facts: Fact) -> Any:
    """The booth view after these facts."""
    snapshot = CompetitionBook(KNOWN, facts).at(unix_ms=ZERO + 60_000)
    return booth_frame(snapshot, snapshot.heats[HEAT])


def test_notes_stand_in_the_order_of_wall_time() -> None:
    """Before the start every heat clock is at 0: what was sent first is first, whoever sent it."""
    late, early = note(1, at_ms=-1000), note(1, at_ms=-5000, sender="spotter-b")
    assert booth(late, early).notes == (early, late)


def test_the_newest_mark_holds_whoever_made_it() -> None:
    """One commentator pins, the other dismisses a second later: dismissed for both, and open again when put back."""
    sent, pin = note(1), marked(1, "spotter-a.1", "pinned", at_ms=1000)
    dismiss = marked(1, "spotter-a.1", "dismissed", at_ms=2000, sender="commentator-b")
    back = marked(2, "spotter-a.1", "open", at_ms=3000)
    assert booth(dismiss, pin, sent).mark_of(sent.id) is BoothMark.DISMISSED
    assert booth(back, dismiss, pin, sent).mark_of(sent.id) is BoothMark.OPEN
    assert booth(sent).mark_of(sent.id) is BoothMark.OPEN


@pytest.mark.parametrize("lane", [None, 2])
def test_a_void_takes_a_note_back_and_a_void_of_it_brings_it_again(lane: int | None) -> None:
    """A note that was taken back was never sent; the table may void the void."""
    sent = note(1, lane=lane)
    gone = void(2, sent, lane=lane)
    again = void(1, gone, lane=lane, sender="table-a", at_ms=1)
    assert booth(sent, gone).notes == ()
    assert booth(gone, sent).notes == ()
    assert booth(again, gone, sent).notes == (sent,)


def _script(chance: random.Random) -> list[Fact]:
    """Notes with and without lanes, marks of them and of the file's facts, and voids, of two senders each."""
    facts: list[Fact] = []
    for number in range(1, 25):
        lane = chance.choice([None, 1, 2])
        at_ms = chance.randrange(-5000, 60_000)
        sender = chance.choice("ab")
        kind = chance.choice(["note", "mark", "void"])
        item = chance.choice([each.id for each in facts] + ["e1/1"])
        if kind == "note":
            facts.append(note(number, at_ms=at_ms, lane=lane, sender=f"spotter-{sender}"))
        elif kind == "mark":
            mark = chance.choice(["open", "pinned", "dismissed"])
            facts.append(marked(number, item, mark, at_ms=at_ms, sender=f"commentator-{sender}"))
        elif facts:
            of = chance.choice(facts)
            own = getattr(of, "lane", None)
            facts.append(void(number, of, lane=own, sender="table-a", at_ms=max(at_ms, 0)))
    return facts


@given(st.randoms(use_true_random=False))
def test_delivery_order_does_not_matter(chance: random.Random) -> None:
    """The facts in any order, some of them twice, lead to the same booth, taken one by one or all at once."""
    facts = _script(chance)
    mixed = facts + facts[:3]
    chance.shuffle(mixed)
    one_by_one = CompetitionBook(KNOWN)
    for fact in mixed:
        one_by_one.add(fact)
    assert one_by_one.at(unix_ms=ZERO).booth.get(HEAT, NOTHING) == booth(*facts)


@given(st.randoms(use_true_random=False))
def test_the_booth_does_not_touch_the_count(chance: random.Random) -> None:
    """A heat is the same with and without notes and marks; so is the time of its last fact."""
    starter, pad = Pad("table-z"), Pad("lane-1-a", 1)
    counted: list[Fact] = [starter.start(), pad.reps(1000), pad.reps(2000)]
    notes = [fact for fact in _script(chance) if isinstance(fact, BoothFact)]
    mixed = counted + notes
    chance.shuffle(mixed)
    books = [CompetitionBook(KNOWN, facts) for facts in (mixed, counted)]
    frames = [heat_frame(KNOWN, book.at_last_facts().heats[HEAT].state) for book in books]
    assert frames[0] == frames[1]
    assert [book.heats[HEAT].last_ms() for book in books] == [2000, 2000]


def test_what_the_file_says_is_in_the_frame() -> None:
    """Respelling, caution and facts of a lane, each fact with its name and mark; what is missing is no field."""
    found = frame(marked(1, "e1/2", "dismissed"))
    assert found["lanes"]["1"] == {
        "lane": 1,
        "entry": "e1",
        "name": "Entry 1",
        "short": "E1",
        "say": "EN-tree",
        "caution": "the fall",
        "facts": [
            {"item": "e1/1", "text": "Won here", "mark": "open"},
            {"item": "e1/2", "text": "Came back", "mark": "dismissed"},
        ],
    }
    assert found["lanes"]["2"]["ipa"] == "ˈɛntri"
    assert found["lanes"]["3"] == {"lane": 3, "entry": "e3", "name": "Entry 3", "short": "E3", "facts": []}


def test_a_spotter_is_told_nothing_of_the_file() -> None:
    """Its part has the notes, and of each lane who it is."""
    found = spotters_frame(frame(note(1, lane=1)))
    assert list(found["notes"]) == found["order"] == ["spotter-a.1"]
    assert set(found["lanes"]["1"]) == {"lane", "entry", "name", "short"}


def test_nothing_is_about_a_lane_that_is_held() -> None:
    """From the hold to its release neither the lane nor a note about it is there; other notes are."""
    about, other = note(1, lane=1), note(2, lane=2)
    held = Pad("table-b", 1)
    placed, released = held.conduct(HoldPlaced, 5000), held.conduct(HoldReleased, 6000)
    during, after = frame(about, other, placed), frame(about, other, placed, released)
    assert (list(during["lanes"]), during["order"]) == (["2", "3"], [other.id])
    assert (list(after["lanes"]), after["order"]) == (["1", "2", "3"], [other.id, about.id])


def test_a_frame_has_a_bound_that_spares_what_is_pinned() -> None:
    """Of more notes than there is room for, dismissed ones and then the oldest are left out; a pinned one stays."""
    notes = [note(number, at_ms=number) for number in range(1, NOTES_MOST + 11)]
    facts = [*notes, marked(1, notes[0].id, "pinned", at_ms=900), marked(2, notes[-1].id, "dismissed", at_ms=901)]
    order = frame(*facts)["order"]
    assert len(order) == NOTES_MOST
    assert order[-1] == notes[0].id
    assert notes[-1].id not in order
    assert order[:-1] == [each.id for each in reversed(notes[10:-1])]
