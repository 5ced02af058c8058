"""Touches from the future: somebody's clock is wrong, and the table hears of it."""

from __future__ import annotations

from dataclasses import replace

from core.samples import Pad
from shell.stage import START_UNIX_MS, joined, journalled, live_on, recording
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from wire.talk import facts, hello


async def told(
    *at_ms: int, uncertain_ms: int = 0, start: str | None = None, clock: FakeClock | None = None
) -> tuple[list[str], int]:
    """What the table hears when lane 1 sends touches of these times ten seconds after the start, and what is kept."""
    clock = clock or FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    table, heard = joined(live, hello("table-a"))
    pad, answers = joined(live, hello("lane-1-a"))
    maker = Pad("lane-1-a", 1)
    async with recording(live):
        table.hear(facts(replace(Pad("table-a").start(), unix_ms=START_UNIX_MS)))
        await journalled(live)
        clock.jump(10)
        for each in at_ms:
            pad.hear(facts(replace(maker.reps(each), uncertain_ms=uncertain_ms, start=start)))
            await journalled(live)
    assert not answers.of_type("error")
    return [each["message"] for each in heard.of_type("error") if each["code"] == "ahead_of_clock"], live.lines - 1


async def test_a_touch_from_the_future_is_told_to_the_table() -> None:
    """Ninety seconds ahead: it is kept, and the table hears of which lane and how far, once in a while."""
    messages, kept = await told(100_000, 100_500, 100_900)
    assert kept == 3
    assert len(messages) == 1
    assert messages[0].startswith("lane 1: found a touch of lane-1-a 90.0 s ahead of the server's clock")


async def test_what_a_good_pad_is_off_is_not_told() -> None:
    """A second, and what the pad says of its own clock beside it, are no alarm."""
    assert await told(9_000, 10_000, 11_000) == ([], 3)
    assert await told(11_400, uncertain_ms=400) == ([], 1)
    assert len((await told(11_401, uncertain_ms=400))[0]) == 1


async def test_a_touch_by_the_clock_of_a_false_start_is_no_alarm() -> None:
    """A pad without a network goes on by the clock of a start that was called back: that one is far ahead."""
    assert await told(100_000, start="a-false-one") == ([], 1)
    assert len((await told(100_000, start="table-a.1"))[0]) == 1
