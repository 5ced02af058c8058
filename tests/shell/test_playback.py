"""Steering a rehearsal: where it goes, what nobody sees any more, what is refused, and what a jump costs."""

from __future__ import annotations

import time
from dataclasses import replace

import orjson
import pytest

from core.samples import HEAT, Pad, competition, full_round, rounds_of_22, workout
from core.test_what_if import two_heats
from shell.rehearsed import Rehearsed
from shell.stage import START_UNIX_MS, joined, journalled, recording
from tallywire.core.errors import BadMessage
from tallywire.core.facts import Fact, NoRepCalled
from tallywire.core.model.competition import Competition
from tallywire.core.rehearsal.placing import Placed, place
from tallywire.shell.steering import Steering
from tallywire.wire.recording import read_recording
from tallywire.wire.steering import read_steering
from wire.reader import whole
from wire.talk import facts, hello, text

JUMP_S = 0.2
"""The bound of a jump."""


def heats() -> list[Placed]:
    """Two heats of two lanes, a rep every ten seconds; lane 2 takes the lead at 65 s of the first one."""
    table, placed = Pad("table-a"), list[Fact]()
    for heat, zero in ((HEAT, START_UNIX_MS), ("h2", START_UNIX_MS + 3_600_000)):
        placed.append(replace(table.start(), heat=heat, unix_ms=zero))
        one, two = Pad(f"lane-1-{heat}", 1), Pad(f"lane-2-{heat}", 2)
        work = [one.reps(10_000), one.block(20_000), one.reps(30_000), two.reps(61_000), two.block(62_000)]
        work += [two.reps(ms) for ms in (63_000, 65_000)]
        placed += [replace(fact, heat=heat) for fact in work]
        placed.append(replace(table.end(70_000), heat=heat))
    return place(two_heats(), [placed], begin_ms=START_UNIX_MS)


def rehearsed() -> tuple[Rehearsed, Steering]:
    """A rehearsal of these heats, and what steers it."""
    on = Rehearsed(two_heats(), heats(), views=("heat", "gaps", "show"))
    return on, Steering(on.playback, on.live.competition)


def say(steering: Steering, line: str) -> str:
    """Type something, and give where the rehearsal is then."""
    steering.steer(read_steering(line))
    return steering.said()


async def test_the_page_is_told_when_each_heat_begins_and_ends() -> None:
    """The first begins with the recording and takes 70 s; the second follows ten seconds later, not an hour."""
    _, steering = rehearsed()
    told = [(each["id"], each["start_ms"], each["end_ms"]) for each in steering.state()["heats"]]
    assert told == [(HEAT, 0, 70_000), ("h2", 80_000, 150_000)]


async def test_typed_words_go_where_they_say() -> None:
    """By the heat clock, to the next moment of a kind and back, by seconds, in another heat; and pause and speed."""
    on, steering = rehearsed()
    for line, there in (
        ("to 0:30", f"{HEAT} at 0:30.000, plays at speed 1"),
        ("next lead", f"{HEAT} at 1:05.000, plays at speed 1"),
        ("pause", f"{HEAT} at 1:05.000, stands still"),
        ("last lead", f"{HEAT} at 0:10.000, stands still"),
        ("next heat", "h2 at 0:00.000, stands still"),
        ("speed 60", "h2 at 0:00.000, stands still"),
        ("back 10", f"{HEAT} at 1:10.000, stands still"),
        ("ahead 12.5", "h2 at 0:02.500, stands still"),
        (f"to {HEAT} 1:00", f"{HEAT} at 1:00.000, stands still"),
        ("play", f"{HEAT} at 1:00.000, plays at speed 60"),
        ("where", f"{HEAT} at 1:00.000, plays at speed 60"),
    ):
        assert say(steering, line) == there, line
    on.clock.jump(0.1)
    assert steering.said() == f"{HEAT} at 1:06.000, plays at speed 60"


async def test_moments_are_told_in_the_language_asked_for() -> None:
    """In the competition's unless a language is named; only the words differ."""
    _, steering = rehearsed()
    own, french = steering.state()["moments"], steering.state("fr")["moments"]
    assert [each["line"] for each in own][:2] == ["Event, Heat 1: start", "Entry 1 leads with 1 rep"]
    assert [each["line"] for each in french][:2] == ["Event, Heat 1 : départ", "Entry 1 mène avec 1 rép."]
    assert [each["moment_ms"] for each in own] == [each["moment_ms"] for each in french]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("to 99:00", "expected a moment from 0.0 s to"),
        ("to soon", 'found "soon", expected a time'),
        ("to h9 1:00", 'found heat "h9", expected one that is recorded: heat, h2'),
        ("speed 61", "found speed 61, expected one from 0.25 to 60"),
        ("speed 0.1", "found speed 0.1, expected one from 0.25 to 60"),
        ("speed fast", 'found "speed fast", expected one of these'),
        ("loop 0:10 0:10", "expected one of a second or more"),
        ("loop 0:10 99:00", "expected one of a second or more"),
        ("next cue", "found no cue after this moment, expected one"),
        ("next thing", "kind"),
        ("what-if no-rep 9 0:10", "found lane 9, expected one of 1, 2, 3"),
        ("what-if no-rep 1 0:31", "found no work of lane 1 after that"),
        ("what-if", 'found "what-if", expected one of these'),
        ("undo", "found no change to take back"),
        ("play on", 'found "on" too much'),
        ("speed 2 3", 'found "3" too much'),
        ("", 'found ""'),
    ],
)
async def test_what_cannot_be_is_refused(line: str, expected: str) -> None:
    """Impossible times, speeds, passages and changes are refused with what was expected, and nothing moves."""
    on, steering = rehearsed()
    on.clock.jump(1)
    with pytest.raises(BadMessage, match=expected.replace("?", r"\?")):
        say(steering, line)
    assert steering.said() == f"{HEAT} at 0:01.000, plays at speed 1"


def test_no_step_is_longer_than_thirty_days() -> None:
    """Either way, to the millisecond: what is asked for is bounded before anything is reckoned with it."""
    assert [read_steering(f"{way} 2592000").ms for way in ("back", "ahead")] == [-2_592_000_000, 2_592_000_000]
    for way in ("back", "ahead"):
        with pytest.raises(BadMessage, match="ms"):
            read_steering(f"{way} 2592000.001")


async def test_the_heat_that_started_last_is_the_one_that_is_on() -> None:
    """From its very start on; before any has started it is the first one."""
    on, _ = rehearsed()
    second_ms = on.playback.moment_of("h2", 0)
    found = [on.playback.heat_at(at_ms) for at_ms in (-1, 0, second_ms - 1, second_ms, on.playback.length_ms)]
    assert found == [HEAT, HEAT, HEAT, "h2", "h2"]


async def test_a_passage_is_played_again_and_again() -> None:
    """From 0:55 to 1:05 at double speed: after 5 s it begins again, with nobody in front but lane 1."""
    on, steering = rehearsed()
    say(steering, "speed 2")
    say(steering, "loop 0:55 1:05")
    on.clock.jump(4.9)
    assert whole(on.shown()["heat"])["lanes"]["2"]["scored_reps"] == 3
    on.clock.jump(0.2)
    assert whole(on.shown()["heat"])["lanes"]["2"]["scored_reps"] == 0
    assert say(steering, "where").startswith(f"{HEAT} at 0:55")
    say(steering, "unloop")
    on.clock.jump(6)
    assert say(steering, "where").startswith(f"{HEAT} at 1:07")


async def test_going_back_leaves_nothing_of_the_future() -> None:
    """Lane 2's lead, what the crew counted since, and the public's pictures of it are gone, for everybody."""
    on, steering = rehearsed()
    viewer = joined(on.live, text(type="watch", view="heat"), text(type="watch", view="show"), bound=3)[1]
    say(steering, "to 0:35")
    async with recording(on.live):
        joined(on.live, hello("lane-3-crew"), facts(replace(Pad("lane-3-crew", 3).reps(35_000))))
        await journalled(on.live)
        on.clock.jump(40)
        await journalled(on.live)
    future = whole(on.shown()["heat"])
    assert (future["leader"]["lane"], future["lanes"]["3"]["scored_reps"]) == (2, 1)
    assert b'"lane":3' in b"".join(line.body for line in on.live.journal.read())
    public = on.live.public[""]
    say(steering, "pause")
    say(steering, "to 0:34")
    viewer.read_all()
    for seen in (whole(on.shown()["heat"]), whole(viewer.shown("heat"))):
        assert (seen["leader"]["lane"], seen["lanes"]["3"]["scored_reps"], seen["lanes"]["2"]["done"]) == (1, 0, 0)
    assert b'"lane":3' not in b"".join(line.body for line in on.live.journal.read())
    newest = orjson.loads(public.newest().body)  # type: ignore[union-attr]
    picture = orjson.loads(public.segment(newest["segment"]).body)  # type: ignore[union-attr]
    assert picture["leader"]["lane"] == 1
    say(steering, "play")
    say(steering, "ahead 35")
    assert whole(on.shown()["heat"])["lanes"]["3"]["scored_reps"] == 0, "what was taken back does not come again"


async def test_a_pad_goes_on_counting_after_a_jump() -> None:
    """The numbers of a pad go on where they were: its next touch is taken, and those that were taken back stay away."""
    on, steering = rehearsed()
    pad = Pad("lane-3-crew", 3)
    on.clock.jump(1)
    async with recording(on.live):
        client, transport = joined(on.live, hello("lane-3-crew"), facts(pad.reps(1), pad.reps(2)))
        await journalled(on.live)
        say(steering, "ahead 20")
        say(steering, "back 30")
        client.hear(facts(pad.reps(3)))
        await journalled(on.live)
    assert transport.of_type("acknowledged")[-1]["watermark"] == 3
    assert on.live.books.snapshot().heats[HEAT].tally(3).done == 1


async def test_a_heat_that_the_crew_starts_runs_by_the_time_of_the_rehearsal() -> None:
    """Started at 10x by a table whose clock is the wall's, a heat shows ten seconds after one."""
    on, steering = rehearsed()
    say(steering, "speed 10")
    on.clock.jump(2)
    async with recording(on.live):
        start = replace(Pad("table-b").start(), heat="h2", unix_ms=on.clock.unix_ms())
        joined(on.live, hello("table-b"), facts(start))
        await journalled(on.live)
    on.clock.jump(1)
    assert on.live.books.snapshot().heats["h2"].clock_ms == 10_000
    clock = on.transport.shown("heat")["clock"]
    assert (clock["zero_unix_ms"], clock["zero_at_ms"]) == (on.clock.unix_ms() - 1000, 0)


async def test_what_if_is_played_on_a_copy() -> None:
    """With a no-rep for lane 2 its lead comes two seconds later; taken back, all is as recorded. The export has it."""
    on, steering = rehearsed()
    say(steering, "pause")
    say(steering, "to 1:06")
    assert on.shown()["heat"]["leader"]["lane"] == 2
    say(steering, "what-if no-rep 2 1:04")
    assert say(steering, "where") == f"{HEAT} at 1:06.000, stands still"
    assert on.shown()["heat"]["leader"]["lane"] == 1
    exported = read_recording("it", b"\n".join(line.body for line in on.live.journal.read()))
    assert [fact.at_ms for fact in exported if isinstance(fact, NoRepCalled)] == [65_000]
    say(steering, "ahead 1")
    assert on.shown()["heat"]["leader"]["lane"] == 2
    say(steering, "back 1")
    say(steering, "undo")
    assert on.shown()["heat"]["leader"]["lane"] == 2
    assert heats() == list(on.playback._script.placed)


async def test_the_recording_ends() -> None:
    """It is done once the last fact was told, and the journal has every fact as it was recorded."""
    on, steering = rehearsed()
    assert not on.playback.done.is_set()
    on.clock.jump(200)
    assert on.playback.done.is_set()
    kept = read_recording("it", b"\n".join(line.body for line in on.live.journal.read()))
    assert kept == [each.fact for each in heats()]
    assert on.live.lines == len(kept)
    assert say(steering, "last heat") == "h2 at 0:00.000, plays at speed 1"


@pytest.mark.alone
async def test_a_jump_anywhere_in_an_hour_costs_less_than_a_fifth_of_a_second() -> None:
    """An hour of ten lanes, watched in every view: books filled anew, all pictures made and sent, ten times over.

    What counts is the processor's time, for a jump waits for nothing.
    """
    work, placed = hour()
    on = Rehearsed(work, placed)
    took = []
    for tenth in (9, 1, 8, 2, 7, 3, 6, 4, 10, 5):
        begun = time.process_time()
        on.playback.to(on.playback.length_ms * tenth // 10)
        took.append(time.process_time() - begun)
    print(f"{len(placed)} facts; jumps took {', '.join(f'{1000 * each:.0f}' for each in took)} ms")
    assert max(took) < JUMP_S


def hour() -> tuple[Competition, list[Placed]]:
    """An hour of ten lanes, each with a rep every two and a half seconds: 24 a minute (common practice, no source)."""
    work = competition(workout(rounds=rounds_of_22(66), cap_ms=3_600_000), lanes=10)
    table, facts = Pad("table-a"), list[Fact]()
    for lane in range(1, 11):
        pad = Pad(f"lane-{lane}-a", lane)
        for number in range(66):
            facts += full_round(pad, number * 55_000 - 100 * lane, step_ms=2500 - 5 * lane)
    ordered = sorted(facts, key=lambda fact: fact.order)
    return work, place(work, [[table.start(), *ordered]], begin_ms=START_UNIX_MS)
