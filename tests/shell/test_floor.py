"""Which heat is on the floor, and what happens when its time is up."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from core.samples import CAP_MS, HEAT, Pad, competition
from shell.stage import (
    START_UNIX_MS,
    WATCH,
    joined,
    journalled,
    live_on,
    recording,
    two_heats,
)
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.workout import Station, Workout
from tallywire.formats.ladder.rules import LadderRules
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.fan_out import TICK_S
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import RunOptions
from wire.talk import facts, hello, text


async def test_the_floor_follows_the_latest_start() -> None:
    """Before any start the first heat is on the floor; then the one started last; a voided start does not count."""
    live = live_on(MemoryJournal(), work=two_heats())
    table = Pad("table-a")
    first = table.start()
    second = replace(table.start(), heat="h2", unix_ms=START_UNIX_MS + 5000)
    void = replace(table.void(1, second), heat="h2")
    assert live.books.floor == HEAT
    async with recording(live):
        client, transport = joined(live, hello("table-a"), WATCH)
        floors = []
        for fact in (first, second, void):
            client.hear(facts(fact))
            await journalled(live)
            floors.append(live.books.floor)
    assert floors == [HEAT, "h2", HEAT]
    live.clock.jump(TICK_S)  # type: ignore[attr-defined]
    assert transport.shown()["heat"]["id"] == HEAT


def test_the_floor_moves_only_to_another_heat() -> None:
    """A call and then the start of the heat that is on the floor anyway move nothing; the next heat's call does."""
    books, table = Books(two_heats(), clock=FakeClock(unix_ms=START_UNIX_MS)), Pad("table-a")
    moved = []
    for fact in (table.call(0, START_UNIX_MS), table.start(), table.call(0, START_UNIX_MS + 9000, heat="h2")):
        books.add(fact, change := Change())
        moved.append(change.floor_moved)
    assert moved == [False, False, True]


async def test_the_table_calls_the_next_heat_to_the_floor() -> None:
    """A heat that was called is on the floor before it starts, for pads and pictures; a call can be taken back."""
    live = live_on(MemoryJournal(), work=two_heats())
    table = Pad("table-a")
    start = table.start()
    call = table.call(0, START_UNIX_MS + 5000, heat="h2")
    void = replace(table.void(1, call), heat="h2")
    async with recording(live):
        client, transport = joined(live, hello("table-a"), WATCH, text(type="watch", view="table", heat=HEAT))
        client.hear(facts(start))
        client.hear(facts(call))
        await journalled(live)
        live.clock.jump(TICK_S)  # type: ignore[attr-defined]
        assert (transport.shown()["heat"]["id"], transport.shown()["heat"]["status"]) == ("h2", "waiting")
        assert transport.shown("table")["floor"] == "h2"
        client.hear(facts(void))
        await journalled(live)
    live.clock.jump(TICK_S)  # type: ignore[attr-defined]
    assert (transport.shown()["heat"]["id"], transport.shown("table")["floor"]) == (HEAT, HEAT)


@given(st.permutations(range(4)))
def test_the_floor_is_a_function_of_the_set_of_facts(order: list[int]) -> None:
    """In whatever order calls, starts and voids come, and when one comes twice, the same heat is on the floor."""
    table, work = Pad("table-a"), two_heats()
    start = table.start()
    call = table.call(0, START_UNIX_MS + 5000, heat="h2")
    again = table.call(900_000, START_UNIX_MS + 9000, heat=HEAT)
    moves: list[Fact] = [start, call, again, replace(table.void(900_001, again), heat=HEAT)]
    books = CompetitionBook(work, [moves[index] for index in (*order, order[0])])
    assert books.floor == "h2"


async def test_a_window_closes_without_a_fact() -> None:
    """A ladder's lane is out the moment its window closes on an open bar; a frame says so, and none before."""
    bars = ((Station(movement="squat", amount=2), Station(movement="squat", amount=2)),)
    ladder = Workout(format="ladder", rounds=bars, time_cap_ms=120_000, rules=LadderRules(window_ms=60_000))
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock, work=competition(ladder, lanes=2))
    table, pad = Pad("table-a"), Pad("lane-1-a", 1)
    async with recording(live):
        _, transport = joined(live, hello("table-a"), WATCH, facts(table.start()))
        joined(live, hello("lane-1-a"), facts(pad.reps(1000), pad.reps(2000)))
        await journalled(live)
    clock.jump(59.98)
    assert {lane: each["status"] for lane, each in transport.shown()["lanes"].items()} == {
        "1": "working",
        "2": "working",
    }
    clock.jump(0.05)
    assert {lane: each["status"] for lane, each in transport.shown()["lanes"].items()} == {"1": "working", "2": "timed"}
    clock.jump(60)
    assert {lane: each["status"] for lane, each in transport.shown()["lanes"].items()} == {"1": "timed", "2": "timed"}


async def test_lanes_turn_capped_without_a_fact() -> None:
    """When the time cap comes a frame goes out by itself in which the lanes are capped, and only then."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    async with recording(live):
        _, transport = joined(live, hello("table-a"), WATCH, facts(Pad("table-a").start()))
        await journalled(live)
    clock.jump(CAP_MS / 1000 - 0.01)
    assert {lane["status"] for lane in transport.shown()["lanes"].values()} == {"working"}
    clock.jump(0.02)
    assert {lane["status"] for lane in transport.shown()["lanes"].values()} == {"capped"}
    assert transport.shown()["heat"]["status"] == "over"


async def test_a_rehearsal_comes_to_the_cap_at_its_speed() -> None:
    """At thirty times the speed the cap comes after a thirtieth of the time, and the frame says mode and speed."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock, options=RunOptions(mode="rehearsal", speed=30))
    async with recording(live):
        _, transport = joined(live, hello("table-a"), WATCH, facts(Pad("table-a").start()))
        await journalled(live)
    clock.jump(CAP_MS / 30_000 + 0.01)
    assert transport.shown()["heat"]["status"] == "over"
    assert (transport.shown()["mode"], transport.shown()["speed"]) == ("rehearsal", 30)


async def test_the_cap_comes_after_a_restart_too() -> None:
    """A server that was restarted in the middle of a heat caps it on time."""
    journal = MemoryJournal()
    first = live_on(journal)
    async with recording(first):
        joined(first, hello("table-a"), facts(Pad("table-a").start()))
        await journalled(first)
    clock = FakeClock(unix_ms=START_UNIX_MS + CAP_MS - 2000)
    _, transport = joined(live_on(journal, clock=clock), WATCH)
    clock.jump(2.01)
    assert transport.shown()["heat"]["status"] == "over"
