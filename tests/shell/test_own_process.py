"""The helper as a process of its own: when it dies, hangs or cannot answer, and when its server ends."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Any

import pytest

from core.samples import HEAT, Pad
from shell.stage import frame_now, joined, live_on, two_heats
from shell.test_second_books import AtOnce
from tallywire.core.facts import Fact
from tallywire.shell.clock import SystemClock
from tallywire.shell.helper import own_process, upkeep
from tallywire.shell.helper.in_place import InPlace
from tallywire.shell.helper.port import Asked, Condition, Tools
from tallywire.shell.helper.recipes import recipes
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.pace import Pace
from tallywire.wire.short_frame import Shortener
from wire.talk import text

pytestmark = pytest.mark.slow


@dataclass
class Stage:
    """A live competition by the clock on the wall, whose call is worked out in a process of its own."""

    live: LiveCompetition

    def happen(self, *facts: Fact) -> None:
        """Let facts be durable now."""
        self.live.play(facts)

    @property
    def condition(self) -> Condition:
        """How the helper is."""
        return self.live.helper.condition()

    @property
    def pid(self) -> int:
        """The number of its process."""
        assert self.condition.pid is not None
        return self.condition.pid


async def until(true: Callable[[], Any]) -> None:
    """Let other tasks and processes run until it is true."""
    async with asyncio.timeout(60):
        while not true():
            await asyncio.to_thread(os.sched_yield)


def is_there(pid: int) -> bool:
    """Whether a process runs: one that has ended and was not waited for does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


@asynccontextmanager
async def stage() -> AsyncIterator[Stage]:
    """A heat that has started, with one repetition."""
    clock = SystemClock()
    live = live_on(MemoryJournal(), clock=clock, work=two_heats(), options=RunOptions(helper="process"))  # type: ignore[arg-type]
    made = Stage(live)
    made.happen(replace(Pad("table-a").start(), unix_ms=clock.unix_ms()), Pad("lane-1-a", 1).reps(1))
    try:
        yield made
    finally:
        live.close()


def done_by(frame: dict[str, Any], lane: int) -> int:
    """The count of a lane in a frame."""
    return int(frame["lanes"][str(lane)]["done"])


async def test_it_starts_when_it_is_asked_and_ends_with_the_server() -> None:
    """Nobody asks, nobody starts; after the end of the server no process is left."""
    clock = SystemClock()
    live = live_on(MemoryJournal(), clock=clock, options=RunOptions(helper="process"))  # type: ignore[arg-type]
    assert live.helper.condition().state == "resting"
    live.close()
    async with stage() as made:
        _, transport = joined(made.live, text(type="watch", view="call"))
        await until(lambda: "outlook" in transport.shown("call").get("lanes", {}).get("1", {}))
        pid = made.pid
        assert is_there(pid)
        assert os.getpriority(os.PRIO_PROCESS, pid) > os.getpriority(os.PRIO_PROCESS, 0)
    assert not is_there(pid)


async def test_one_that_is_killed_is_replaced_and_told_everything() -> None:
    """Killed in mid-heat it is back within a moment, knows the facts from before, and answers as one in place does."""
    async with stage() as made:
        _, transport = joined(made.live, text(type="watch", view="call"))
        await until(lambda: "outlook" in transport.shown("call").get("lanes", {}).get("1", {}))
        before = made.pid
        os.kill(before, signal.SIGKILL)
        made.happen(Pad("lane-2-a", 2).reps(2))
        await until(lambda: done_by(transport.shown("call"), 2) == 1)
        assert made.pid != before
        assert made.condition.ended == {"died": 1}
        assert done_by(transport.shown("call"), 1) == 1


async def test_one_that_hangs_is_ended_and_the_view_says_how_old_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last frame stays, with its age, until another process has answered; then nothing is said any more."""
    monkeypatch.setattr(upkeep, "PATIENCE_S", 4.5)
    async with stage() as made:
        _, transport = joined(made.live, text(type="watch", view="call"))
        await until(lambda: "outlook" in transport.shown("call").get("lanes", {}).get("1", {}))
        os.kill(made.pid, signal.SIGSTOP)
        made.happen(Pad("lane-2-a", 2).reps(2))
        await until(lambda: transport.shown("call").get("old_ms", 0) > 0)
        assert transport.shown("call")["old_ms"] > 3000, "before that it is not said"
        assert done_by(transport.shown("call"), 2) == 0
        assert made.live.behind_s["call"] > 3
        assert done_by(frame_now(made.live, "heat", HEAT), 2) == 1
        await until(lambda: done_by(transport.shown("call"), 2) == 1)
        assert "old_ms" not in transport.shown("call")
        assert made.condition.ended == {"hung": 1}


async def test_after_jumps_it_answers_for_the_moment_at_which_the_rehearsal_is() -> None:
    """Sent to and fro while it is told and asked, it gives the call that one in place makes of the last moment."""
    async with stage() as made:
        live, transport = made.live, joined(made.live, text(type="watch", view="call"))[1]
        zero = live.clock.unix_ms()
        pad = Pad("lane-1-a", 1)
        told = [replace(Pad("table-a").start(), unix_ms=zero), *(pad.reps(second * 1000) for second in range(1, 20))]
        chance = Random(5)
        for last in [*(chance.randrange(2, 20) for _ in range(12)), 11]:
            pace = Pace(unix_ms=live.clock.unix_ms(), recorded_ms=zero + 20_000, rate=0)
            live.jump(told[:last], pace, lines=last, desks={})
            await asyncio.sleep(chance.choice([0, 0, 0.01, 0.3]))

        def is_there_yet() -> bool:
            shown = transport.shown("call")
            return "outlook" in shown["lanes"]["1"] and done_by(shown, 1) == 10

        await until(is_there_yet)
        tools = Tools(competition=live.competition)
        answers: list[Any] = []
        InPlace(live.books, recipes(tools), AtOnce()).ask(
            lambda: Asked(what="call", heat=HEAT, wanted=True), answers.append
        )
        assert transport.shown("call")["lanes"] == Shortener().shorten(answers[0].frame)["lanes"]


async def test_an_error_in_an_answer_ends_nothing(caplog: pytest.LogCaptureFixture) -> None:
    """What cannot be worked out is answered with nothing, and logged by the server; other questions are answered."""
    async with stage() as made:
        given: list[Any] = []
        made.live.helper.ask(lambda: Asked(what="nothing of the kind", heat=HEAT), given.append)
        made.live.helper.ask(lambda: None, given.append)
        made.live.helper.ask(lambda: Asked(what="stalls", heat=HEAT), given.append)
        await until(lambda: len(given) == 3)
        assert given[:2] == [None, None]
        assert set(given[2]) == {1, 2, 3}
        assert made.condition.ended == {}
        assert "nothing of the kind" in caplog.text


async def test_a_question_of_which_two_processes_end_is_dropped(monkeypatch: pytest.MonkeyPatch) -> None:
    """It gets no answer, and those behind it get theirs."""
    monkeypatch.setattr(upkeep, "WAIT_S", 0.01)
    async with stage() as made:
        given: list[Any] = []

        def deadly() -> Asked:
            # The question is sent to a process that is gone before it can answer.
            os.kill(made.pid, signal.SIGKILL)
            return Asked(what="call", heat=HEAT)

        made.live.helper.ask(deadly, given.append)
        made.live.helper.ask(lambda: Asked(what="standings", heat=HEAT), given.append)
        await until(lambda: len(given) == 2)
        assert given[0] is None
        assert given[1].frame["view"] == "standings"
        assert made.condition.ended == {"died": 2}


async def test_books_that_are_filled_anew_while_they_are_told_are_told_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rehearsal that jumps while its facts are on their way is answered from where it is then."""
    monkeypatch.setattr(own_process, "_CHUNK", 1)
    async with stage() as made:
        pad, books = Pad("lane-1-b", 1), made.live.books
        facts = [Pad("table-b").start(), *(pad.reps(1_000 * n) for n in range(1, 30))]
        given: list[Any] = []
        made.happen(*facts)
        made.live.helper.ask(lambda: Asked(what="standings", heat=HEAT), given.append)
        await until(lambda: made.live.helper._is_told)  # type: ignore[attr-defined]
        books.begin_anew(facts[:5])
        made.live.helper.begin_anew()
        await until(lambda: given)
        in_place: list[Any] = []
        tools = Tools(competition=two_heats())
        InPlace(books, recipes(tools), AtOnce()).ask(lambda: Asked(what="standings", heat=HEAT), in_place.append)
        assert done_by(given[0].frame, 1) == done_by(in_place[0].frame, 1) == 4


def test_each_end_doubles_the_wait_until_one_has_worked_for_a_while() -> None:
    """Restarts come ever more seldom, up to a bound; one that hung gives the next one more time."""

    class Clock(SystemClock):
        at_s = 0.0

        def now(self) -> float:
            return self.at_s

    clock = Clock()
    kept, waits = upkeep.Upkeep(clock), []
    for _ in range(10):
        kept.stands(1)
        kept.ended("died")
        waits.append(kept.wait_s)
    assert waits[:3] == [0.2, 0.4, 0.8]
    assert waits[-1] == upkeep.WAIT_MOST_S
    kept.stands(1)
    kept.ended("hung")
    assert kept.patience_s == 2 * upkeep.PATIENCE_S
    clock.at_s = upkeep.CALM_S + 1
    kept.stands(1)
    kept.answered()
    assert kept.patience_s == 2 * upkeep.PATIENCE_S, "it has only just begun"
    clock.at_s += upkeep.CALM_S + 1
    kept.answered()
    kept.ended("died")
    assert (kept.wait_s, kept.patience_s) == (upkeep.WAIT_S, upkeep.PATIENCE_S)
    assert kept.condition().ended == {"died": 11, "hung": 1}
