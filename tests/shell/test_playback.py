"""Playing a recording: each fact when its time has come on the heat clock, at the speed that was asked for."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest

from core.floors import floors_apart
from core.samples import HEAT, Pad
from tallywire.core.facts import Fact
from tallywire.shell.clock import Clock, SystemClock
from tallywire.shell.playback import Playback, PlayTarget, Voice, floors_of
from tallywire.web.serving import running
from tallywire.web.settings import Settings


class Ears:
    """Hears what a sender says, and at which time."""

    def __init__(self, clock: Hand) -> None:
        self._clock = clock
        self.heard: list[tuple[int, int]] = []

    async def say(self, facts: Sequence[Fact]) -> None:
        """Note each fact's time on the heat clock beside that of the wall."""
        self.heard += [(fact.at_ms, self._clock.now_ms) for fact in facts]


class Hand:
    """A clock that waiting moves on by just what was waited for."""

    def __init__(self) -> None:
        self.now_ms = 1_000_000

    def unix_ms(self) -> int:
        """The time that stands."""
        return self.now_ms


def test_facts_come_when_their_time_has_come(monkeypatch: pytest.MonkeyPatch) -> None:
    """At double speed a fact at 10 s comes five seconds after the start; one of the same time comes with it, and none
    before its time."""
    clock, waits = Hand(), []

    async def wait(seconds: float) -> None:
        waits.append(seconds)
        clock.now_ms += round(1000 * seconds)

    monkeypatch.setattr("tallywire.shell.playback.asyncio.sleep", wait)
    pad, ears = Pad("lane-1", 1), Ears(clock)
    facts = [Pad("lane-1").start(), pad.reps(10_000), pad.reps(10_000), pad.reps(30_000)]
    target = PlayTarget(url="", key_of=str, clock=cast(Clock, clock), speed=2)
    played = Playback(target, facts, {HEAT: clock.now_ms})
    asyncio.run(played._play({"lane-1": cast(Voice, ears)}))
    assert ears.heard == [(0, 1_000_000), (10_000, 1_005_000), (10_000, 1_005_000), (30_000, 1_015_000)]
    assert (played.sent, played.at_ms) == (4, 30_000)


async def test_pads_of_two_floors_are_played_with_their_own_links(tmp_path: Path) -> None:
    """The facts of lane 1 of two floors go in by the link of each, and are counted on it."""
    work = floors_apart(2)
    table = Pad("table-a")
    facts: list[Fact] = [replace(table.start(), heat=heat) for heat in ("easth1", "westh1")]
    for floor, count in (("east", 2), ("west", 5)):
        pad = Pad(f"lane-1-{floor}-a", 1)
        facts += [replace(pad.reps(1000 * n), heat=f"{floor}h1") for n in range(count)]
    floors = floors_of(facts, work)
    assert floors == {"lane-1-east-a": "east", "lane-1-west-a": "west"}
    assert (
        floors_of([Pad("lane-1", 1).reps(0)], replace(work, heats={HEAT: replace(work.heats["easth1"], floor="")}))
        == {}
    )
    settings = Settings(data=tmp_path, port=0, mode="rehearsal", speed=1000)
    async with running(work, settings) as server:
        keys = server.live.keys
        target = PlayTarget(
            url=f"{server.address.replace('http', 'ws', 1)}/wire",
            key_of=lambda name: keys.lane(1, floors[name]) if name in floors else keys.table,
            floors=floors,
            clock=SystemClock(),
            speed=1000,
        )
        await Playback(target, facts, {}).run()
        now = server.live.books.snapshot()
        assert [now.heats[heat].tally(1).done for heat in ("easth1", "westh1")] == [2, 5]
