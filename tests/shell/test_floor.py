"""Which heat is on the floor, and what happens when its time is up."""

from __future__ import annotations

from dataclasses import replace

from core.samples import CAP_MS, HEAT, Pad
from shell.stage import (
    START_UNIX_MS,
    WATCH,
    house_on,
    joined,
    journalled,
    recording,
    two_heats,
)
from tallywire.shell.clock import FakeClock
from tallywire.shell.house import RunOptions
from tallywire.shell.hub import TICK_S
from tallywire.shell.journal.memory import MemoryJournal
from wire.talk import facts, hello


async def test_the_floor_follows_the_latest_start() -> None:
    """Before any start the first heat is on the floor; then the one started last; a voided start does not count."""
    house = house_on(MemoryJournal(), work=two_heats())
    table = Pad("table-a")
    first = table.start()
    second = replace(table.start(), heat="h2", unix_ms=START_UNIX_MS + 5000)
    void = replace(table.void(1, second), heat="h2")
    assert house.scorebook.floor == HEAT
    async with recording(house):
        client, sink = joined(house, hello("table-a"), WATCH)
        floors = []
        for fact in (first, second, void):
            client.hear(facts(fact))
            await journalled(house)
            floors.append(house.scorebook.floor)
    assert floors == [HEAT, "h2", HEAT]
    house.clock.jump(TICK_S)  # type: ignore[attr-defined]
    assert sink.shown()["heat"]["id"] == HEAT


async def test_lanes_turn_capped_without_a_fact() -> None:
    """When the time cap comes a frame goes out by itself in which the lanes are capped, and only then."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    house = house_on(MemoryJournal(), clock=clock)
    async with recording(house):
        _, sink = joined(house, hello("table-a"), WATCH, facts(Pad("table-a").start()))
        await journalled(house)
    clock.jump(CAP_MS / 1000 - 0.01)
    assert {lane["status"] for lane in sink.shown()["lanes"].values()} == {"working"}
    clock.jump(0.02)
    assert {lane["status"] for lane in sink.shown()["lanes"].values()} == {"capped"}
    assert sink.shown()["heat"]["status"] == "over"


async def test_a_rehearsal_comes_to_the_cap_at_its_speed() -> None:
    """At thirty times the speed the cap comes after a thirtieth of the time, and the frame says mode and speed."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    house = house_on(MemoryJournal(), clock=clock, options=RunOptions(mode="rehearsal", speed=30))
    async with recording(house):
        _, sink = joined(house, hello("table-a"), WATCH, facts(Pad("table-a").start()))
        await journalled(house)
    clock.jump(CAP_MS / 30_000 + 0.01)
    assert sink.shown()["heat"]["status"] == "over"
    assert (sink.shown()["mode"], sink.shown()["speed"]) == ("rehearsal", 30)


async def test_the_cap_comes_after_a_restart_too() -> None:
    """A server that was restarted in the middle of a heat caps it on time."""
    journal = MemoryJournal()
    first = house_on(journal)
    async with recording(first):
        joined(first, hello("table-a"), facts(Pad("table-a").start()))
        await journalled(first)
    clock = FakeClock(unix_ms=START_UNIX_MS + CAP_MS - 2000)
    _, sink = joined(house_on(journal, clock=clock), WATCH)
    clock.jump(2.01)
    assert sink.shown()["heat"]["status"] == "over"
