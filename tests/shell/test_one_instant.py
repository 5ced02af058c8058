"""One instant a frame: with a clock that steps at each read, whatever is shown is of one reading of it."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from core.samples import CAP_MS, HEAT, Pad, competition, workout
from core.test_formats import LADDER, intervals
from shell.stage import START_UNIX_MS, FakeTransport, frame_now, joined, journalled, live_on, recording
from shell.test_call_view import InlineWorker
from tallywire.core.facts import Fact, SheetChecked
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Workout
from tallywire.formats.intervals.rules import Counts
from tallywire.shell.books import Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.fan_out import TICK_S
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.read_model import VIEW_NAMES
from wire.talk import facts, hello, text

WORK: dict[str, tuple[Workout, int]] = {
    "at the cap": (workout(), CAP_MS),
    "at the end of a bar's window": (LADDER, 60_000),
    "at the end of a piece": (intervals(Counts.SLOWEST, timed=True, amount=5), 60_000),
}
"""A workout, and a moment of the heat clock at which its lanes turn."""


class SteppingClock(FakeClock):
    """A clock that steps a millisecond at each read, and counts them."""

    def __init__(self, *, unix_ms: int) -> None:
        super().__init__(unix_ms=unix_ms)
        self.reads = 0

    def unix_ms(self) -> int:
        """Give wall time, a millisecond later each time."""
        self.reads += 1
        return super().unix_ms() + self.reads - 1


def sent(pads: int = 3) -> dict[str, list[Fact]]:
    """A heat that has started, in which every lane has done something, and has its sheet compared."""
    table = Pad("table-a")
    start = table.start()
    checks = [replace(table.conduct(SheetChecked, 9_000, by="desk"), lane=lane) for lane in range(1, pads + 1)]  # type: ignore[call-arg]
    found: dict[str, list[Fact]] = {"table-a": [start, *checks]}
    for lane in range(1, pads + 1):
        pad = Pad(f"lane-{lane}-a", lane)
        found[pad.sender] = [pad.reps(1_000 * lane + 10 * n) for n in range(3 - lane, 4)]
    return found


async def journal_of(work: Competition) -> MemoryJournal:
    """A journal with the heat in it."""
    journal = MemoryJournal()
    live = live_on(journal, work=work, clock=FakeClock(unix_ms=START_UNIX_MS + 10_000))
    async with recording(live):
        for sender, items in sent().items():
            joined(live, hello(sender), facts(*items))
        await journalled(live)
    live.close()
    return journal


def opened(journal: MemoryJournal, work: Competition, clock: FakeClock) -> LiveCompetition:
    """A live competition that has the journal's facts, and works out at once what takes a while."""
    return live_on(journal, work=work, clock=clock, options=RunOptions(make_worker=InlineWorker))


def standing_still(journal: MemoryJournal, work: Competition, view: str, instants: Sequence[int]) -> list[Any]:
    """The frames of a view as they are when the clock stands at each of these wall times."""
    return [frame_now(opened(journal, work, FakeClock(unix_ms=at)), view, "floor") for at in instants]


@pytest.mark.parametrize("case", WORK)
@pytest.mark.parametrize("view", VIEW_NAMES)
async def test_no_frame_is_of_two_instants(view: str, case: str) -> None:
    """Around a moment, millisecond by millisecond, a frame is that of the one reading of the clock that it takes."""
    workout_of, moment_ms = WORK[case]
    work = competition(workout_of)
    journal = await journal_of(work)
    for before_ms in range(16):
        clock = SteppingClock(unix_ms=START_UNIX_MS + moment_ms - before_ms)
        live = opened(journal, work, clock)
        read, instant = clock.reads, START_UNIX_MS + moment_ms - before_ms + clock.reads
        channel = live.fan_out.feed(view, "floor").channel
        assert clock.reads - read == 1
        assert channel.unix_ms == instant
        assert [channel.frame] == standing_still(journal, work, view, [instant])


@pytest.mark.parametrize("case", WORK)
@pytest.mark.parametrize("before_ms", [24, 16, 12, 8])
async def test_a_tick_shows_one_instant_in_every_view(case: str, before_ms: int) -> None:
    """A tap, near a moment, while every view is watched: all that it changes is made of one reading of the clock."""
    workout_of, moment_ms = WORK[case]
    work = competition(workout_of)
    journal = await journal_of(work)
    clock = SteppingClock(unix_ms=START_UNIX_MS + moment_ms - before_ms)
    live = opened(journal, work, clock)
    views = [view for view in VIEW_NAMES if view not in ("call", "standings")]
    for view in views:
        live.fan_out.join(FakeTransport()).watch(view, "floor")
    change, tap = Change(), Pad("lane-1-z", 1).reps(9_000)
    live.books.add(tap, change)
    live.show(change, live.books.snapshot())
    changed = [channel for view in views if (channel := live.fan_out.feed(view, "floor").channel).number > 1]
    assert {"heat", "gaps", "result", "event", "table"} <= {channel.view for channel in changed}
    [instant] = {channel.unix_ms for channel in changed}
    still = opened(journal, work, FakeClock(unix_ms=instant))
    still.books.add(tap, Change())
    for channel in changed:
        assert channel.frame == frame_now(still, channel.view, "floor")


@pytest.mark.parametrize("view", ["call", "standings"])
async def test_what_is_worked_out_is_of_one_instant(view: str) -> None:
    """At the cap, a call and standings in full are those of one reading of the clock, whichever it was."""
    work = competition()
    journal = await journal_of(work)
    clock = SteppingClock(unix_ms=START_UNIX_MS + CAP_MS - 6)
    live = opened(journal, work, clock)
    found = await full(live, view)
    last = clock.unix_ms() - START_UNIX_MS
    instants = [START_UNIX_MS + at for at in range(CAP_MS - 6, last)]
    frames = []
    for at in instants:
        still = opened(journal, work, FakeClock(unix_ms=at))
        frames.append(await full(still, view))
    assert found in frames


async def full(live: LiveCompetition, view: str) -> Any:
    """A view worked out in full, while the clock of deadlines goes on."""
    asked = asyncio.ensure_future(live.prepared(view, HEAT))
    await asyncio.sleep(0)
    live.clock.jump(0)  # type: ignore[attr-defined]
    await asked
    return frame_now(live, view, "floor")


async def test_a_tap_reads_the_clock_three_times() -> None:
    """Once when its message comes, once for the journal, and once for the answer and all that is shown with it."""
    journal = await journal_of(competition())
    clock = SteppingClock(unix_ms=START_UNIX_MS + 20_000)
    live = opened(journal, competition(), clock)
    watches = [text(type="watch", view=view) for view in VIEW_NAMES[:8]]
    async with recording(live):
        client, transport = joined(live, hello("table-z"), *watches)
        clock.jump(TICK_S)
        read, shown = clock.reads, len(transport.of_type("patch"))
        client.hear(facts(Pad("table-z", 1).correct(30_000, 9)))
        await journalled(live)
    assert len(transport.of_type("patch")) >= shown + 5
    assert clock.reads - read == 3
