"""The story of a heat in sentences, from facts in the order they came and the links of the crew."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from core.samples import HEAT, Pad, competition
from tallywire.core.facts import (
    FACT_TYPES,
    SHOW_FACTS,
    AppealDecided,
    Fact,
    FactVoided,
    NoteMarked,
    NoteSent,
    PenaltyGiven,
    SheetChecked,
)
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.result_status import result_digest
from tallywire.core.reports.story import CrewLink, RecordLine, Sentence, story
from tallywire.core.reports.story_words import WORDS, words_of
from tallywire.wire.catalogue import catalogue

COMPETITION = competition()
CAP_MS = COMPETITION.events["event"].workout.time_cap_ms
ZERO = 1_800_000_000_000

SAY = catalogue("en").say


def came(fact: Fact, unix_ms: int) -> RecordLine:
    """Let a fact come at a wall time."""
    return RecordLine(sender=fact.sender, received_unix_ms=unix_ms, fact=fact)


def told(*lines: RecordLine, links: tuple[CrewLink, ...] = ()) -> list[Sentence]:
    """Tell the story of the heat."""
    return story(COMPETITION, COMPETITION.heats[HEAT], lines, SAY, links)


def texts(sentences: list[Sentence]) -> list[str]:
    """Give who and what of each sentence."""
    return [f"{each.who} {each.what}" for each in sentences]


def digest_of(facts: list[Fact]) -> str:
    """Give what a signature after these facts names."""
    book = HeatBook(COMPETITION, COMPETITION.heats[HEAT])
    book.fill(facts)
    return result_digest(book.at(CAP_MS))


def test_every_kind_of_fact_about_a_heat_has_its_words() -> None:
    """No fact is left out of a story, and what the graphics desk did is none of it."""
    assert {*WORDS, FactVoided} == set(FACT_TYPES) - set(SHOW_FACTS)


def test_touches_are_told_together_and_a_no_rep_by_itself() -> None:
    """Three touches, a no-rep and two more are three sentences of one judge; another's touches are not cut up by it."""
    table, one, two = Pad("table-a"), Pad("lane-1-a", 1), Pad("lane-2-b", 2)
    facts = [table.start(), *(one.reps(at) for at in (1000, 2000, 3000)), two.reps(3500), one.no_rep(4000)]
    facts += [two.reps(4500), one.reps(5000), one.reps(6000)]
    lines = [came(fact, ZERO + fact.at_ms) for fact in facts]
    assert sorted(texts(told(*lines))) == [
        "The judge of lane 1 called a no-rep on lane 1 (Entry 1): depth",
        "The judge of lane 1 counted 2 reps for lane 1 (Entry 1), from 0:05.0 to 0:06.0",
        "The judge of lane 1 counted 3 reps for lane 1 (Entry 1), from 0:01.0 to 0:03.0",
        "The judge of lane 2 counted 2 reps for lane 2 (Entry 2), from 0:03.5 to 0:04.5",
        "The result is not final: the heat is not over, or a scoresheet is to be compared",
        "The scoring table started the heat",
    ]


def test_what_the_booth_was_told_is_in_the_story() -> None:
    """Who noted what about whom, who pinned it, and what was taken back; braces in a note stay as they are."""
    stamp: dict[str, Any] = {"heat": HEAT, "at_ms": 3000, "sequence": 1, "lane": 2, "unix_ms": ZERO}
    sent = NoteSent(id="s.1", sender="spotter-a", text="{lane} limps\u001b[31m", spotter="Ada", **stamp)
    pinned = NoteMarked(id="c.1", sender="commentator-a", item="s.1", mark="pinned", **stamp)
    void = FactVoided(id="s.2", heat=HEAT, at_ms=4000, sender="spotter-a", sequence=2, voids="s.1", lane=2)
    found = texts(told(came(sent, ZERO), came(pinned, ZERO + 1), came(void, ZERO + 2)))
    words = "told the booth about lane 2 (Entry 2) as Ada: {lane} limps [31m"
    assert found[0] == f"A spotter {words}"
    assert found[1] == "A commentator pinned note s.1 about lane 2 (Entry 2) in the booth"
    assert found[2] == f"A spotter took back “{words}”"


def test_a_false_start_says_what_never_counts() -> None:
    """The recall tells how many facts it took with it, and the touches say that they belong to it."""
    table, pad = Pad("table-a"), Pad("lane-1-a", 1)
    start = table.start()
    touches = [replace(pad.reps(at), start=start.id) for at in (1000, 2000)]
    recall = table.recall(8000, start)
    again = replace(table.start(), unix_ms=ZERO + 60_000)
    lines = [came(start, ZERO), came(touches[0], ZERO + 1000), came(recall, ZERO + 8000)]
    lines += [came(again, ZERO + 60_000), came(touches[1], ZERO + 90_000)]
    found = texts(told(*lines))
    assert found[1].endswith("at 0:01.0; the start was false, so nothing of this counts")
    assert found[2] == "The scoring table called the heat back; 2 facts of that start never count"
    assert found[3] == "The scoring table started the heat again"
    assert "the last came 1:28 late, from a phone without a network" in found[4]


def test_a_start_that_was_announced_or_earlier_says_so() -> None:
    """Ten seconds ahead, and half a minute ago."""
    table = Pad("table-a")
    ahead = told(came(table.start(), ZERO - 10_000))
    ago = told(came(table.start(), ZERO + 30_000))
    assert texts([ahead[0], ago[0]]) == [
        "The scoring table started the heat, to begin 0:10 later",
        "The scoring table started the heat, by a signal 0:30 earlier",
    ]


def test_a_start_in_the_middle_of_the_clock_counts_from_there() -> None:
    """The clock is at 0:10 when it starts: a touch at 0:12 that comes after eight seconds is six late, and the heat is
    over ten seconds sooner."""
    table = Pad("table-a")
    start = table.start(10_000)
    found = texts(told(came(start, ZERO), came(Pad("lane-1-a", 1).reps(12_000), ZERO + 8_000)))
    assert "the last came 0:06 late, from a phone without a network" in found[1]
    checked = [replace(agrees(table, lane), at_ms=20_000) for lane in (1, 2, 3)]
    stands = [
        texts(told(came(start, ZERO), *(came(each, ZERO + CAP_MS - 10_000 - early_ms) for each in checked)))[-1]
        for early_ms in (1, 0)
    ]
    assert [line.partition(":")[0] for line in stands] == ["The result is not final", "The result is provisional"]


def test_a_link_that_was_taken_back_and_its_phone_replaced() -> None:
    """The device that left, the one that came, and the labels of both links are told in their order."""
    table, first, second = Pad("table-a"), Pad("lane-1-a", 1), Pad("lane-1-b", 1)

    def link(name: str, **more: object) -> CrewLink:
        return CrewLink(id=name, title="lane pad 1", label="Saturday", lane=1, **more)  # type: ignore[arg-type]

    old = link("l1", senders={"lane-1-a": ZERO - 5}, ended_ms=ZERO + 3000, replaced_by="l2")
    new = link("l2", senders={"lane-1-b": ZERO + 4000})
    facts = [table.start(), first.reps(1000), second.reps(5000)]
    found = told(*(came(fact, ZERO + fact.at_ms) for fact in facts), links=(old, new))
    named = "lane pad 1 “Saturday”, link"
    assert [(each.what, each.device) for each in found if each.who in ("A device", "The server")] == [
        ("opened the lane pad 1", f"lane-1-a with {named} l1"),
        ("cut off every device with a link that was taken back; link l2 took its place", f"{named} l1"),
        ("opened the lane pad 1", f"lane-1-b with {named} l2"),
    ]
    assert [each.device for each in found if "counted" in each.what] == [
        f"lane-1-a with {named} l1",
        f"lane-1-b with {named} l2",
    ]


def test_signature_appeal_and_amended_result() -> None:
    """A correction after the signature makes the result provisional, and the second signature amends it."""
    table = Pad("table-a")
    facts: list[Fact] = [table.start(), *(agrees(table, lane) for lane in (1, 2, 3))]
    facts.append(table.sign(CAP_MS, digest_of(facts)))
    facts += [table.correct(CAP_MS, 6, lane=1), granted(table, 1)]
    facts.append(table.sign(CAP_MS + 2000, digest_of(facts)))
    found = texts(told(*(came(fact, ZERO + CAP_MS + number) for number, fact in enumerate(facts))))
    assert found[4] == "The scoring table had the result signed by Head Judge"
    assert found[5:7] == [
        "The scoring table set the count of lane 1 (Entry 1) to 6: sheet",
        "The result is no longer the one that was signed: it is provisional until it is signed again",
    ]
    assert "the appeal about lane 1 (Entry 1) is granted: video" in found[7]
    assert found[-1] == "The result is amended, signed by Head Judge"


def test_what_was_refused_is_told_once_with_its_number() -> None:
    """Two facts refused for one reason are one sentence, and no letter of a reason moves a terminal's cursor."""
    start = came(Pad("table-a").start(), ZERO)
    refused = [RecordLine(sender="lane-1-a", received_unix_ms=ZERO + n, refusal="found \x1b[2J") for n in (1, 2)]
    assert texts(told(start, *refused))[1] == "The judge of lane 1 sent 2 facts that were refused: found  [2J"


def test_a_void_says_what_it_took_back() -> None:
    """The table takes a correction back: the sentence quotes it."""
    table = Pad("table-a")
    start, correction = table.start(), table.correct(2000, 5, lane=1)
    facts = [start, correction, table.void(3000, correction)]
    found = texts(told(*(came(fact, ZERO + fact.at_ms) for fact in facts)))
    assert found[2] == "The scoring table took back “set the count of lane 1 (Entry 1) to 5: sheet”"


def agrees(table: Pad, lane: int) -> Fact:
    """A lane's sheet agrees."""
    return replace(table.conduct(SheetChecked, CAP_MS, by="Head Judge"), lane=lane)  # type: ignore[call-arg]


def granted(table: Pad, lane: int) -> Fact:
    """An appeal about a lane is granted."""
    made = table.conduct(AppealDecided, CAP_MS + 1000, by="Head Judge", reason="video", upheld=True)
    return replace(made, lane=lane)  # type: ignore[call-arg]


@pytest.mark.parametrize(
    ("reps", "ms", "said"),
    [(2, 0, "2 reps"), (0, 5_000, "5 s"), (1, 500, "1 rep and 0.5 s"), (0, 0, "nothing")],
)
def test_a_penalty_is_told_with_what_it_took(reps: int, ms: int, said: str) -> None:
    """Repetitions, seconds, or both; whichever it has none of is left out."""
    fact = Pad("judge-a", 1).conduct(PenaltyGiven, 1_000, reason="lane fault", reps=reps, ms=ms)
    assert words_of(fact, SAY, lane_name="lane {}".format, known={}) == f"gave lane 1 a penalty of {said}: lane fault"
