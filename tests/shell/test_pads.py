"""What the table is told of the devices that count: connected or lost, what waits, and what their touches say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from core.called import SALTMARSH, WOMEN
from core.samples import HEAT, Pad, competition, workout
from shell.stage import START_UNIX_MS, WATCH, frame_now, joined, journalled, live_on, recording, settled
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.workout import Station
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.links import Wish
from tallywire.shell.live import LiveCompetition
from tallywire.shell.pads import ALARM_MS, Pads
from tallywire.shell.touches import Touches
from tallywire.wire.roles import ROLES
from tallywire.wire.rules import Sender
from wire.talk import facts, hello, text


def pads_of(live: LiveCompetition, lane: int = 1) -> dict[str, Any]:
    """What the table is told of a lane."""
    found: dict[str, Any] = frame_now(live, "table", HEAT)["pads"][str(lane)]
    return found


def backup_hello(live: LiveCompetition) -> str:
    """The hello of a backup counter of lane 1."""
    key = live.crew.links.issue([Wish(role="backup", lane=1)])[0].key
    return text(type="hello", role="backup", lane=1, key=key, sender="backup-1-a")


async def test_a_pad_is_seen_from_its_hello_until_it_is_gone() -> None:
    """Connected with what it says of itself; then lost, and after five seconds missed in public; then back."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    assert "pads" not in frame_now(live, "table", HEAT)
    async with recording(live):
        pad, transport = joined(live, hello("lane-1-a"))
        pad.hear(text(type="status", waiting=3, battery=40, error_ms=20, ahead_ms=-90_000))
        [device] = pads_of(live)["devices"]
        assert device == {
            "sender": "lane-1-a",
            "role": "lane",
            "up": True,
            "since_unix_ms": START_UNIX_MS,
            "waiting": 3,
            "held": 0,
            "battery": 40,
            "error_ms": 20,
            "ahead_ms": -90_000,
        }
        assert pads_of(live, 2) == {"devices": []}
        assert "pads" not in frame_now(live, "table/1", HEAT)
        clock.jump(1)
        pad.leave()
        transport.close()
        [gone] = pads_of(live)["devices"]
        assert (gone["up"], gone["since_unix_ms"]) == (False, START_UNIX_MS + 1000)
        assert "waiting_for_pad" not in frame_now(live, "heat", HEAT)
        clock.jump(6)
        assert frame_now(live, "heat", HEAT)["waiting_for_pad"] == [1]
        joined(live, hello("lane-1-a"))
        assert "waiting_for_pad" not in frame_now(live, "heat", HEAT)
        joined(live, hello("lane-1-b"))
        assert pads_of(live)["two"] is True


async def test_who_watches_is_told_of_a_lost_pad_and_of_its_coming_back() -> None:
    """Nobody taps meanwhile: the look at the pads alone sends the heat view, and only when other lanes miss theirs."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    _, watching = joined(live, WATCH)
    async with recording(live):
        pad, transport = joined(live, hello("lane-1-a"))
        clock.jump(10)
        assert len(watching.messages) == 1
        pad.leave()
        transport.close()
        clock.jump(7)
        assert watching.shown()["waiting_for_pad"] == [1]
        joined(live, hello("lane-1-a"))
        clock.jump(2)
        assert "waiting_for_pad" not in watching.shown()
        assert len(watching.messages) == 3


async def test_what_the_table_is_told_of_pads_keeps_no_tap_waiting() -> None:
    """Each second the table is sent what a pad says of itself; a tap right behind it is shown at once all the same."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    table, told = joined(live, hello("table-a"), text(type="watch", view="table"))
    _, watching = joined(live, WATCH)
    main, _ = joined(live, hello("lane-1-a"))
    pad = Pad("lane-1-a", 1)
    async with recording(live):
        table.hear(facts(replace(Pad("table-a").start(), unix_ms=START_UNIX_MS)))
        await journalled(live)
        for battery in range(90, 80, -1):
            main.hear(text(type="status", waiting=0, battery=battery))
            before = len(told.messages)
            while len(told.messages) == before:
                clock.jump(0.005)
            done = watching.shown()["lanes"]["1"]["done"]
            main.hear(facts(pad.reps(round(1000 * clock.now()))))
            await journalled(live)
            assert watching.shown()["lanes"]["1"]["done"] == done + 1
            clock.jump(0.1)


async def test_a_backup_is_held_against_the_main_counter() -> None:
    """It is told its own count, the heat has the main counter's, and the table sees both and that they disagree."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    table, _ = joined(live, hello("table-a"))
    main, _ = joined(live, hello("lane-1-a"))
    backup, heard = joined(live, backup_hello(live))
    pad, second = Pad("lane-1-a", 1), Pad("backup-1-a", 1)
    async with recording(live):
        table.hear(facts(replace(Pad("table-a").start(), unix_ms=START_UNIX_MS)))
        await journalled(live)
        clock.jump(10)
        main.hear(facts(pad.reps(1000), pad.block(7000)))
        backup.hear(facts(second.reps(1000)))
        await journalled(live)
        assert [each["tally"]["done"] for each in heard.of_type("acknowledged")] == [1]
        assert frame_now(live, "heat", HEAT)["lanes"]["1"]["scored_reps"] == 2
        assert frame_now(live, "table/1/backup", HEAT)["lanes"]["1"]["scored_reps"] == 1
        assert (pads_of(live)["backup"], pads_of(live)["disagree"]) == (1, False)
        assert "two" not in pads_of(live)
        clock.jump(6)
        assert pads_of(live)["disagree"] is True
        backup.hear(facts(second.block(7100)))
        await journalled(live)
        assert (pads_of(live)["backup"], pads_of(live)["disagree"]) == (2, False)


async def test_touches_that_cannot_be_are_told() -> None:
    """Two touches a tenth of a second apart are a double touch; the alarm goes by itself after half a minute."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    table, _ = joined(live, hello("table-a"))
    main, _ = joined(live, hello("lane-1-a"))
    pad = Pad("lane-1-a", 1)
    async with recording(live):
        table.hear(facts(replace(Pad("table-a").start(), unix_ms=START_UNIX_MS)))
        await journalled(live)
        clock.jump(10)
        main.hear(facts(pad.reps(4000), pad.reps(4100)))
        await journalled(live)
        [device] = pads_of(live)["devices"]
        assert (device["alarms"], device["last_unix_ms"]) == (["double"], START_UNIX_MS + 10_000)
        clock.jump(31)
        assert "alarms" not in pads_of(live)["devices"][0]


def test_pads_are_looked_at_while_one_is_there_and_half_a_minute_longer() -> None:
    """Each second, because what is said of a pad that is gone changes with time."""
    clock, looks = FakeClock(), list[float]()
    pads = Pads(clock=clock, changed=lambda _missed: looks.append(clock.now()))
    sender = Sender(name="lane-1-a", role=ROLES["lane"], lane=1)
    pads.join(sender)
    clock.jump(60)
    pads.leave(sender)
    clock.jump(120)
    assert looks[-1] == pytest.approx(60 + ALARM_MS / 1000, abs=1)
    assert len(looks) == pytest.approx(looks[-1], abs=2)
    pads.close()


def test_a_look_says_when_other_lanes_are_missing_their_pads() -> None:
    """A pad that is gone is missed five seconds later, and found again when it is back; all other looks say nothing."""
    clock, looks = FakeClock(), list[tuple[float, bool]]()
    pads = Pads(clock=clock, changed=lambda missed: looks.append((clock.now(), missed)))
    sender = Sender(name="lane-1-a", role=ROLES["lane"], lane=1)
    pads.join(sender)
    clock.jump(9.5)
    pads.leave(sender)
    clock.jump(10)
    pads.join(sender)
    clock.jump(10)
    pads.close()
    assert [at for at, missed in looks if missed] == [15, 20]
    assert len(looks) == 29


def test_a_pace_is_held_against_what_a_rep_is_expected_to_take() -> None:
    """Reps of two seconds: six within 2.9 s are too fast to be true, six within 3.1 s are not, and neither is rope."""
    fast, true, rope = Touches(), Touches(), Touches()
    assert [fast.take(580 * n, 2000) for n in range(6)] == [None] * 5 + ["too_fast"]
    assert [true.take(620 * n, 2000) for n in range(6)] == [None] * 6
    assert [rope.take(400 * n, 450) for n in range(6)] == [None] * 6


def test_a_run_is_of_one_movement() -> None:
    """Five reps of half a second, then climbs of ten: the first climb is no run of six, a bounce at it is a bounce."""
    touches = Touches()
    assert [touches.take(500 * n, 500) for n in range(6)] == [None] * 6
    assert touches.take(12_000, 10_000) is None
    assert touches.take(12_100, 10_000) == "double"


def test_a_touch_is_held_against_the_movement_that_it_was_for() -> None:
    """Six climbs of ten seconds take 3.2 s each, which can be. The first half-second rep after them is no climb."""
    climbs = Station(movement="Climb", amount=6, expected_ms=60_000)
    skips = Station(movement="Skip", amount=6, expected_ms=3_000)
    book = CompetitionBook(competition(replace(workout(), rounds=((climbs, skips),)), lanes=1))
    pads, pad = Pads(clock=FakeClock(), changed=lambda _missed: None), Pad("lane-1-a", 1)
    pads.join(Sender(name="lane-1-a", role=ROLES["lane"], lane=1))
    book.add(Pad("table-a").start())
    touches = [pad.reps(3_200 * n) for n in range(1, 7)]
    for fact in (*touches, pad.reps(touches[-1].at_ms + 500)):
        book.add(fact)
        now = book.at_clocks({HEAT: fact.at_ms})
        pads.counted(fact, now)
    [device] = pads.seen(now.heats[HEAT], now.unix_ms)["1"]["devices"]
    assert "alarms" not in device


@pytest.mark.parametrize("at_once", [9, 100, 10_000])
def test_the_demo_is_never_too_fast_to_be_true(at_once: int) -> None:
    """However many touches come together, as after a time without a network: each is held against its own movement."""
    pads, book, alarms = Pads(clock=FakeClock(), changed=lambda _missed: None), CompetitionBook(SALTMARSH), set[str]()
    for fact in WOMEN:
        if fact.sender.startswith("lane-"):
            pads.join(Sender(name=fact.sender, role=ROLES["lane"], lane=int(fact.sender.split("-")[1])))
    for first in range(0, len(WOMEN), at_once):
        come = WOMEN[first : first + at_once]
        for fact in come:
            book.add(fact)
        now = book.at_clocks({"women-2": come[-1].at_ms})
        for fact in come:
            pads.counted(fact, now)
        lanes = pads.seen(now.heats["women-2"], now.unix_ms).values()
        alarms |= {name for lane in lanes for device in lane["devices"] for name in device.get("alarms", ())}
    assert alarms <= {"double"}


async def test_the_table_is_told_when_a_lane_has_stalled_by_its_own_forecast() -> None:
    """While its pad is connected and the heat runs: of a lane with work left, some seconds after the start."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    async with recording(live):
        table, _ = joined(live, hello("table-a"))
        joined(live, hello("lane-1-a"))
        assert "stalled_after_ms" not in pads_of(live)
        table.hear(facts(replace(Pad("table-a").start(), unix_ms=START_UNIX_MS)))
        await journalled(live)
        clock.jump(2)
        await settled(lambda: "stalled_after_ms" in pads_of(live))
        assert 5_000 < pads_of(live)["stalled_after_ms"] < 300_000
