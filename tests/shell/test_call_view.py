"""The call in the background: how often it is refreshed, for whom, and what a late joiner gets."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
import pytest

from core.floors import floors_apart
from core.samples import HEAT, Pad, competition, full_round, workout
from shell.stage import START_UNIX_MS, frame_now, joined, live_on, sent_now, two_heats
from tallywire.core.facts import Fact, HoldPlaced
from tallywire.core.forecast import predict
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Station
from tallywire.shell.background import LEAST_S, STEP_S
from tallywire.shell.books import Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.helper.port import Answer
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import LiveCompetition, RunOptions
from wire.reader import whole
from wire.talk import text

CALL = text(type="watch", view="call")
T = TypeVar("T")


@dataclass
class InlineWorker:
    """Works at once, or keeps the work until it is told to do it; notes whether each piece made a frame."""

    framed: list[bool] = field(default_factory=list)
    holds: bool = False
    fails: bool = False
    kept: list[Callable[[], None]] = field(default_factory=list)

    def run(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        """Take one piece of work."""

        def do() -> None:
            answer = None if self.fails else work()
            self.framed.append(isinstance(answer, Answer) and answer.frame is not None)
            done(answer)

        if self.holds:
            self.kept.append(do)
        else:
            do()

    def close(self) -> None:
        """Nothing waits."""


@dataclass
class Booth:
    """A live competition with the call's worker, and the facts that happen in it."""

    live: LiveCompetition
    clock: FakeClock
    worker: InlineWorker

    def happen(self, *facts: Fact) -> None:
        """Let facts be durable now."""
        for fact in facts:
            change = Change()
            self.live.books.add(fact, change)
            self.live.show(change, self.live.books.snapshot())

    def pass_s(self, seconds: float, *, steps: int = 100) -> None:
        """Let time pass in small steps."""
        for _ in range(steps):
            self.clock.jump(seconds / steps)


def booth(work: Competition | None = None) -> Booth:
    """A live competition, with two heats unless another is given; nothing has started."""
    clock, worker = FakeClock(unix_ms=START_UNIX_MS), InlineWorker()
    options = RunOptions(make_worker=lambda: worker)
    return Booth(live_on(MemoryJournal(), clock=clock, work=work or two_heats(), options=options), clock, worker)


async def test_a_running_heat_is_called_each_second_without_a_fact() -> None:
    """Forecasts move with silence: in ten seconds without a fact a watcher's call is worked out ten times."""
    stage = booth()
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, CALL)
    stage.pass_s(1.5 * STEP_S)
    stage.worker.framed.clear()
    stage.pass_s(10 * STEP_S)
    assert stage.worker.framed == [True] * 10
    assert "outlook" in transport.shown("call")["lanes"]["1"]


async def test_the_gap_feed_grows_with_silence_as_the_call_does() -> None:
    """By hand, from docs/scoring.md: lane 2's next rep was passed at 4:20.0, so at 4:50 it is 30 s behind at least.

    A watcher hears of it within a second, though nobody has tapped since.
    """
    one, two = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    stage = booth(competition(workout(rounds=((Station(movement="row", amount=100),),))))
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, CALL, text(type="watch", view="gaps"))
    stage.pass_s(260)
    stage.happen(one.reps(250_000), two.reps(254_300), one.reps(260_000))
    stage.pass_s(LEAST_S)
    gap = transport.shown("gaps")["lanes"]["2"]["behind"]["leader"]
    assert (gap["ms"], gap["precision"]) == (4_300, "exact")
    stage.pass_s(30 - LEAST_S)
    for view in ("gaps", "call"):
        gap = transport.shown(view)["lanes"]["2"]["behind"]["leader"]
        assert gap["precision"] == "at_least"
        assert 30_000 - 1_010 < gap["ms"] <= 30_000


async def test_the_call_of_a_floor_whose_heat_is_over_follows_the_other_floor() -> None:
    """Long after its own heat ended, a watcher's call still takes the standing from the heat of the event that runs."""
    stage = booth(floors_apart(2, one_event=True))
    table, pad = Pad("table-e"), Pad("lane-1-w", 1)
    east = [table.start(), replace(Pad("lane-1-e", 1).reps(900), n=5), table.end(1000)]
    stage.happen(*(replace(fact, heat="easth1") for fact in east))
    stage.happen(replace(Pad("table-w").start(), heat="westh1"))
    _, transport = joined(stage.live, text(type="watch", view="call", heat="floor:east"))
    stage.pass_s(120)
    assert transport.shown("call")["overall"]["all"]["rows"][0]["entry"] == "easte11"
    stage.happen(replace(pad.reps(121_000), heat="westh1", n=45))
    stage.pass_s(2 * LEAST_S)
    told = transport.shown("call")
    assert told["overall"]["all"]["rows"][0]["entry"] == "weste11"
    assert told == sent_now(stage.live, "call", "floor:east")


async def test_a_forecast_that_fails_leaves_the_rest_of_the_call(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """While the forecast cannot be worked out, taps, gaps and cues go on; the forecast is back when it can."""
    stage, pad = booth(), Pad("lane-1-a", 1)
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, CALL)
    with monkeypatch.context() as broken:
        broken.setattr(predict, "model_of", _no_forecast)
        for n in range(23):
            stage.happen(pad.reps(1_000 + 20 * n))
        stage.pass_s(STEP_S)
        told = transport.shown("call")
        assert told["lanes"]["1"]["done"] == 23
        assert told["lanes"]["2"]["behind"]["leader"]["reps"] == 1
        assert not any("outlook" in lane for lane in told["lanes"].values())
    assert "goes on without a forecast" in caplog.text
    stage.pass_s(2 * STEP_S)
    assert "outlook" in transport.shown("call")["lanes"]["1"]


def _no_forecast(_workout: object) -> None:
    raise np.linalg.LinAlgError


async def test_a_call_is_refreshed_at_most_five_times_a_second() -> None:
    """Of a hundred taps in two seconds a watcher's call is worked out ten times, the last tap included."""
    stage, pad = booth(), Pad("lane-1-a", 1)
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, CALL)
    stage.pass_s(1)
    stage.worker.framed.clear()
    for n in range(100):
        stage.happen(pad.reps(1_000 + 20 * n))
        stage.clock.jump(0.02)
    assert len(stage.worker.framed) <= 2 / LEAST_S
    stage.clock.jump(LEAST_S)
    lane = whole(transport.shown("call"))["lanes"]["1"]
    assert (lane["done"], lane["scored_reps"]) == (100, 23)


async def test_nobody_watching_costs_no_forecast() -> None:
    """Without a watcher only the cues are listened for, once a second however many taps there are."""
    stage, pad = booth(), Pad("lane-1-a", 1)
    stage.happen(Pad("table-a").start())
    for n in range(100):
        stage.happen(pad.reps(100 * n))
        stage.clock.jump(0.1)
    assert set(stage.worker.framed) == {False}
    assert len(stage.worker.framed) <= 11


async def test_a_late_joiner_gets_the_cues_still_alive() -> None:
    """The desk listens while nobody watches: those who come later read what came up a moment ago, and not what is
    stale.
    """
    stage = booth()
    stage.happen(Pad("table-a").start(), *full_round(Pad("lane-1-a", 1), 0, step_ms=100))
    stage.pass_s(5)
    _, transport = joined(stage.live, CALL)
    assert [cue["kind"] for cue in transport.shown("call")["cues"]] == ["round_first"]
    stage.pass_s(30)
    _, late = joined(stage.live, CALL)
    assert late.shown("call")["cues"] == []


async def test_each_watcher_reads_the_cues_in_its_own_language() -> None:
    """The call that is kept up to date, and the quick one before it, say the cues as each watcher has asked."""
    stage = booth()
    stage.happen(Pad("table-a").start(), *full_round(Pad("lane-1-a", 1), 0, step_ms=100))
    stage.pass_s(5)
    stage.worker.holds = True
    french, transport = joined(stage.live, text(type="watch", view="call", language="fr"))
    _, own = joined(stage.live, CALL)
    quick = [cue["line"] for cue in transport.shown("call")["cues"]]
    stage.worker.holds = False
    for do in stage.worker.kept:
        do()
    stage.pass_s(1)
    told = transport.shown("call")
    assert "outlook" in told["lanes"]["1"]
    assert quick == [cue["line"] for cue in told["cues"]] == ["E1 boucle en premier le tour 1, 22 répétitions, à 0:02."]
    assert [cue["line"] for cue in own.shown("call")["cues"]] == ["E1 is first through round one, 22 reps, at 0:02."]
    assert told | {"cues": ()} == own.shown("call") | {"cues": ()}
    french.hear(text(type="unwatch", view="call", language="fr"))
    assert stage.live.fan_out.watches == 1


async def test_the_cap_is_told_to_be_in_danger_by_the_forecast() -> None:
    """Watched or not, in the second half of the time the desk is given the forecast, worked out in the worker."""
    stage = booth()
    stage.happen(Pad("table-a").start())
    pad = Pad("lane-1-a", 1)
    for n in range(3):
        stage.happen(*full_round(pad, n * 22 * 8_200, step_ms=8_200))
        stage.pass_s(22 * 8.2, steps=200)
    assert set(stage.worker.framed) == {False}
    _, transport = joined(stage.live, CALL)
    told = [cue["line"] for cue in transport.shown("call")["cues"] if cue["kind"] == "cap_danger"]
    stage.pass_s(30, steps=60)
    told += [cue["line"] for cue in transport.shown("call")["cues"] if cue["kind"] == "cap_danger"]
    assert told
    assert all("the forecast has it" in line for line in told)


async def test_the_first_watcher_is_not_kept_waiting_for_a_forecast() -> None:
    """What is quick comes at once, what takes long as soon as it is there; before the start, too."""
    stage = booth()
    stage.worker.holds = True
    _, transport = joined(stage.live, CALL)
    assert transport.shown("call")["overall"] == {}
    stage.clock.jump(LEAST_S)
    stage.worker.kept.pop()()
    stage.clock.jump(0.04)
    assert set(transport.shown("call")["overall"]) == {"women"}


async def test_two_pieces_of_one_heat_are_never_under_way_at_once() -> None:
    """The desk is a reducer: it takes the next look only after the last is through."""
    stage = booth()
    stage.happen(Pad("table-a").start())
    joined(stage.live, CALL)
    stage.worker.holds = True
    stage.pass_s(5)
    assert len(stage.worker.kept) == 1


async def test_work_that_fails_does_not_end_the_calls() -> None:
    """After a failure the next look comes a second later, and the picture of before stays."""
    stage = booth()
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, CALL)
    stage.worker.fails = True
    stage.pass_s(3)
    stage.worker.fails = False
    stage.pass_s(2)
    assert "outlook" in transport.shown("call")["lanes"]["1"]


async def test_a_hold_takes_the_lane_off_the_call() -> None:
    """A lane under medical hold is gone with the next refresh."""
    stage = booth()
    stage.happen(Pad("table-a").start())
    _, transport = joined(stage.live, CALL)
    stage.pass_s(2)
    stage.happen(Pad("table-b", 2).conduct(HoldPlaced, 2_000))
    stage.pass_s(2 * LEAST_S)
    assert set(transport.shown("call")["lanes"]) == {"1", "3"}


async def test_a_heat_that_ended_long_ago_is_left_alone() -> None:
    """A minute after its end nobody listens to a heat any more."""
    stage = booth()
    stage.happen(Pad("table-a").start(), Pad("table-b").end(10_000))
    stage.pass_s(75)
    stage.worker.framed.clear()
    stage.pass_s(10)
    assert stage.worker.framed == []


async def test_the_thread_answers_on_the_event_loop() -> None:
    """With the worker the server uses, one asked-for call comes full."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock)
    asked = asyncio.create_task(live.prepared("call", HEAT))
    await asyncio.sleep(0)
    clock.jump(0)
    await asked
    assert set(frame_now(live, "call", HEAT)["overall"]) == {"women"}
    live.close()
