"""The clock port and the clock of a heat."""

from __future__ import annotations

import asyncio

import pytest

from core.samples import Pad
from tallywire.core.fold.book import heat_clock_ms
from tallywire.shell.clock import FakeClock, SystemClock, wall_ms_until

STARTED = Pad("table-a").start()


@pytest.mark.parametrize(
    ("passed_ms", "speed", "shown"), [(0, 1, 0), (1500, 1, 1500), (1500, 10, 15_000), (-500, 1, 0)]
)
def test_the_heat_clock_runs_at_its_speed(passed_ms: int, speed: float, shown: int) -> None:
    """It shows the wall time since the start times the speed, and never less than 0."""
    assert heat_clock_ms(STARTED, unix_ms=STARTED.unix_ms + passed_ms, speed=speed) == shown


def test_the_clock_of_a_heat_that_has_not_started_stands() -> None:
    """Before the start it shows 0."""
    assert heat_clock_ms(None, unix_ms=1, speed=1) == 0


def test_a_start_may_be_given_later() -> None:
    """A clock set at 5 s when the wall showed the start goes on from 5 s."""
    late = Pad("table-a").start(5000)
    assert heat_clock_ms(late, unix_ms=late.unix_ms + 100, speed=1) == 5100
    assert wall_ms_until(late, 15_000, unix_ms=late.unix_ms, speed=10) == 1000


def test_a_fake_clock_meets_deadlines_in_order() -> None:
    """A jump makes the calls that fall due, each at its own time, those made on the way too, but no cancelled ones."""
    clock, calls = FakeClock(unix_ms=0), list[tuple[str, float]]()

    def first() -> None:
        calls.append(("first", clock.now()))
        clock.call_at(1.5, lambda: calls.append(("made on the way", clock.now())))

    clock.call_at(2, lambda: calls.append(("second", clock.now())))
    clock.call_at(1, first)
    clock.call_at(1, lambda: calls.append(("cancelled", clock.now()))).cancel()
    clock.call_at(9, lambda: calls.append(("later", clock.now())))
    clock.jump(3)
    assert calls == [("first", 1), ("made on the way", 1.5), ("second", 2)]
    assert (clock.now(), clock.unix_ms()) == (3, 3000)


async def test_the_machines_clock_calls() -> None:
    """A deadline that has come is met by the event loop, and wall time is that of the machine."""
    clock, called = SystemClock(), asyncio.Event()
    clock.call_at(clock.now(), called.set)
    await called.wait()
    assert clock.unix_ms() > 1_700_000_000_000


def test_a_wall_clock_that_is_set_moves_no_heat() -> None:
    """Set by an hour either way while the server runs, its time goes on evenly; the next start takes the new time."""
    wall, steady = 1_800_000_000_000_000_000, 5_000_000_000
    clock = SystemClock(wall_ns=lambda: wall, steady_ns=lambda: steady)
    for step in (3_600, -7_200):
        wall += step * 1_000_000_000
        steady += 250_000_000
    assert clock.unix_ms() == 1_800_000_000_500
    assert SystemClock(wall_ns=lambda: wall, steady_ns=lambda: steady).unix_ms() == wall // 1_000_000
