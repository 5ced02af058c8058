"""The standings in the background: how often they are worked out, for whom, and what stands in until they are there."""

from __future__ import annotations

import asyncio

from core.samples import HEAT, Pad
from shell.stage import joined
from shell.test_call_view import booth
from tallywire.shell.background import LEAST_S
from wire.talk import text

STANDINGS = text(type="watch", view="standings")


async def test_standings_are_worked_out_at_most_five_times_a_second() -> None:
    """Of a hundred taps in two seconds ten standings are made, and the last tap is in them."""
    stage, pad = booth(), Pad("lane-1-a", 1)
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, STANDINGS)
    stage.pass_s(1)
    before = len(stage.worker.framed)
    for n in range(100):
        stage.happen(pad.reps(1_000 + 20 * n))
        stage.clock.jump(0.02)
    calls = 3
    assert len(stage.worker.framed) - before <= 2 / LEAST_S + calls
    stage.clock.jump(LEAST_S)
    assert transport.shown("standings")["standings"]["women"]["order"][0] == "e1"


async def test_nobody_watching_costs_nothing() -> None:
    """Without a watcher nothing is worked out."""
    stage, pad = booth(), Pad("lane-1-a", 1)
    for n in range(100):
        stage.happen(pad.reps(100 * n))
    stage.pass_s(5)
    assert stage.worker.framed == []


async def test_until_they_are_worked_out_the_view_has_no_standings() -> None:
    """The first frame comes at once, without standings; they follow when the worker is done."""
    stage = booth()
    stage.worker.holds = True
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, STANDINGS)
    assert "standings" not in transport.shown("standings")
    assert transport.shown("standings")["mode"] == "live"
    stage.pass_s(1)
    for work in stage.worker.kept:
        work()
    stage.pass_s(0.1)
    assert "standings" in transport.shown("standings")


async def test_who_asks_once_gets_them_whole() -> None:
    """The route that answers once waits until they are worked out."""
    stage = booth()
    stage.happen(Pad("table-a").start())
    asked = asyncio.create_task(stage.live.prepared("standings", HEAT))
    await asyncio.sleep(0)
    stage.pass_s(1)
    await asked
    assert "standings" in stage.live.fan_out.newest("standings", HEAT).channel.frame


async def test_standings_that_fail_leave_the_rest_alone() -> None:
    """A worker that fails is asked again with the next fact."""
    stage = booth()
    stage.worker.fails = True
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, STANDINGS)
    stage.pass_s(1)
    assert "standings" not in transport.shown("standings")
    stage.worker.fails = False
    stage.happen(Pad("lane-1-a", 1).reps(1_000))
    stage.pass_s(1)
    assert "standings" in transport.shown("standings")
