"""The booth of a running server: floors apart, after a restart, at an edge that follows, and in a rehearsal."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from core.floors import floors_apart
from core.samples import Pad
from shell.rehearsed import Rehearsed
from shell.stage import START_UNIX_MS, FakeTransport, frame_now, joined, journalled, live_on, recording
from tallywire.core.facts import Fact, NoteMarked, NoteSent
from tallywire.core.model.competition import Briefing
from tallywire.core.rehearsal.placing import place
from tallywire.shell.clock import FakeClock
from tallywire.shell.fan_out import TICK_S
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.links import Wish
from tallywire.shell.live import LiveCompetition
from wire.talk import facts, text

WORK = replace(floors_apart(2), briefings={"easte11": Briefing(say="EE-leven")})


def note(number: int, heat: str, *, lane: int | None = None) -> NoteSent:
    """A note of a spotter about a heat."""
    stamp: dict[str, Any] = {"sender": "spotter-a", "sequence": number, "at_ms": 0, "unix_ms": START_UNIX_MS + number}
    return NoteSent(id=f"spotter-a.{number}", heat=heat, lane=lane, text=f"note {number}", spotter="Ada", **stamp)


PINNED = NoteMarked(
    id="commentator-a.1",
    heat="easth1",
    at_ms=0,
    sender="commentator-a",
    sequence=1,
    unix_ms=START_UNIX_MS + 50,
    item="spotter-a.1",
    mark="pinned",
)
DISMISSED = replace(PINNED, id="commentator-b.1", sender="commentator-b", unix_ms=START_UNIX_MS + 40, mark="dismissed")
SENT: list[Fact] = [note(1, "easth1", lane=1), note(2, "westh1"), DISMISSED, PINNED]


def say(live: LiveCompetition, said: list[Fact]) -> None:
    """Let each fact come with a link of its sender's role."""
    for fact in said:
        role = fact.sender.partition("-")[0]
        key = live.crew.links.issue([Wish(role=role)])[0].key
        joined(live, text(type="hello", role=role, key=key, sender=fact.sender), facts(fact))


def booths(live: LiveCompetition) -> dict[str, Any]:
    """The notes of each floor's heat with their marks."""
    frames = {floor: frame_now(live, "booth", f"floor:{floor}") for floor in ("east", "west")}
    return {floor: {key: each["mark"] for key, each in frame["notes"].items()} for floor, frame in frames.items()}


EXPECTED = {"east": {"spotter-a.1": "pinned"}, "west": {"spotter-a.2": "open"}}


async def test_floors_have_booths_of_their_own_and_a_restart_keeps_them() -> None:
    """A note is in the booth of its heat's floor alone; a server that starts on the journal shows the same."""
    journal = MemoryJournal()
    live = live_on(journal, work=WORK)
    async with recording(live):
        say(live, SENT)
        await journalled(live)
    assert booths(live) == EXPECTED
    assert frame_now(live, "booth", "floor:east")["lanes"]["1"]["say"] == "EE-leven"
    again = live_on(journal, work=WORK)
    assert booths(again) == EXPECTED
    for each in (live, again):
        each.close()


async def test_an_edge_that_follows_shows_a_note_at_once() -> None:
    """Whoever watches the booth at an edge gets the note when its line comes, and no other view is touched."""
    journal = MemoryJournal()
    live = live_on(journal, work=WORK)
    async with recording(live):
        say(live, SENT)
        await journalled(live)
    clock = FakeClock(unix_ms=START_UNIX_MS)
    edge = live_on(MemoryJournal(), work=WORK, clock=clock)
    watcher = edge.fan_out.join(transport := FakeTransport())
    for view in ("booth", "heat", "table"):
        watcher.watch(view, "floor:east")
    edge.follow(list(journal.read()))
    clock.jump(TICK_S)
    assert transport.shown("booth")["notes"]["spotter-a.1"]["mark"] == "pinned"
    assert {message["view"] for message in transport.of_type("patch")} == {"booth"}
    for each in (live, edge):
        each.close()


async def test_a_rehearsal_has_the_booth_of_its_moment() -> None:
    """Played on, back and on again, the booth has what it had then, whichever commentator's mark came last."""
    start = replace(Pad("table-a").start(), heat="easth1")
    placed = place(WORK, [[start, *SENT]], begin_ms=START_UNIX_MS)
    on = Rehearsed(WORK, placed, views=("booth",))
    for moment_ms, marked in (
        (20, {"spotter-a.1": "open"}),
        (45, {"spotter-a.1": "dismissed"}),
        (100, EXPECTED["east"]),
    ):
        for _ in range(2):
            on.playback.to(moment_ms)
            assert booths(on.live)["east"] == marked
    on.playback.to(0)
    assert booths(on.live) == {"east": {}, "west": {}}
