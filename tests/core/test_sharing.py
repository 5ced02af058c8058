"""What crosses to a thread does not change while it is read there, and two threads do not tear what they share."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from threading import Barrier
from typing import TypeVar

import pytest

from core.called import SALTMARSH, WOMEN, WORDING
from core.samples import workout
from tallywire.core.call.steps import see
from tallywire.core.call.whole import listen, look_ahead, make_call
from tallywire.core.cues import CueDesk
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.workout import Plan
from tallywire.core.views.heat import Frame

T = TypeVar("T")
LAPS = 60


@contextmanager
def threads_in_turn() -> Iterator[None]:
    """Let threads take turns as often as the interpreter can."""
    was = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    yield
    sys.setswitchinterval(was)


def at_once(*works: Callable[[], T]) -> list[T]:
    """Begin pieces of work at the same moment, each in a thread of its own."""
    begin = Barrier(len(works))

    def do(work: Callable[[], T]) -> T:
        begin.wait()
        return work()

    with ThreadPoolExecutor(len(works)) as pool:
        return list(pool.map(do, works))


@pytest.mark.slow
def test_two_threads_do_not_tear_a_plan() -> None:
    """Both ask a new plan for station ends it does not have yet, again and again: neither finds one twice or none."""
    alone = Plan(workout(kind="amrap"), laps=None)
    right = [list(alone.station_ends(lap * alone.lap_done)) for lap in range(LAPS)]
    with threads_in_turn():
        for _ in range(40):
            plan = Plan(workout(kind="amrap"), laps=None)

            def walk(plan: Plan = plan) -> list[object]:
                return [list(plan.station_ends(lap * plan.lap_done)) for lap in range(LAPS)]

            assert at_once(walk, walk) == [right, right]


@pytest.mark.slow
@pytest.mark.parametrize("at_ms", [240_000, 600_000])
def test_a_call_worked_out_while_facts_come_is_that_of_its_instant(at_ms: int) -> None:
    """In a thread beside a book that fills, asked for snapshots of its own, a call is what it is without the thread."""
    known = [fact for fact in WOMEN if fact.at_ms <= at_ms]
    coming = [fact for fact in WOMEN if fact.at_ms > at_ms]
    book = CompetitionBook(SALTMARSH, known)
    now = book.at_clocks({"women-2": at_ms})
    sight = see(now, now.heats["women-2"])

    def call() -> Frame:
        outlook = look_ahead(SALTMARSH, sight)
        desk = listen(SALTMARSH, CueDesk(), sight, outlook)
        return make_call(SALTMARSH, sight, outlook, desk=desk, wording=WORDING)

    def fill() -> Frame:
        for fact in coming:
            book.add(fact)
            later = book.at_clocks({"women-2": fact.at_ms})
            assert later.heats["women-2"].state.lanes
        return {}

    with threads_in_turn():
        beside, _ = at_once(call, fill)
    assert beside == call()
