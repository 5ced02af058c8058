"""The clock port and the clock of a heat."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from core.samples import Pad
from tallywire.core.fold.book import heat_clock_ms
from tallywire.shell.clock import FakeClock, SystemClock
from tallywire.shell.kept_clock import KeptClock

STARTED = Pad("table-a").start()


@pytest.mark.parametrize(("passed_ms", "shown"), [(0, 0), (1500, 1500), (-500, 0)])
def test_the_heat_clock_runs_with_the_wall(passed_ms: int, shown: int) -> None:
    """It shows the wall time since the start, and never less than 0."""
    assert heat_clock_ms(STARTED, unix_ms=STARTED.unix_ms + passed_ms) == shown


def test_the_clock_of_a_heat_that_has_not_started_stands() -> None:
    """Before the start it shows 0."""
    assert heat_clock_ms(None, unix_ms=1) == 0


def test_a_start_may_be_given_later() -> None:
    """A clock set at 5 s when the wall showed the start goes on from 5 s."""
    late = Pad("table-a").start(5000)
    assert heat_clock_ms(late, unix_ms=late.unix_ms + 100) == 5100


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
    """A deadline that has come is met by the event loop, whose time it shows; wall time is that of the machine."""
    clock, called = SystemClock(), asyncio.Event()
    before, shown, after = asyncio.get_running_loop().time(), clock.now(), asyncio.get_running_loop().time()
    assert before <= shown <= after
    clock.call_at(clock.now(), called.set)
    await called.wait()
    assert clock.unix_ms() > 1_700_000_000_000


def test_a_wall_clock_that_is_set_moves_no_heat() -> None:
    """Set by an hour either way while the server runs, its time goes on evenly; a clock that is made then is new."""
    wall, steady = 1_800_000_000_000_000_000, 5_000_000_000
    clock = SystemClock(wall_ns=lambda: wall, steady_ns=lambda: steady)
    for step in (3_600, -7_200):
        wall += step * 1_000_000_000
        steady += 250_000_000
    assert clock.unix_ms() == 1_800_000_000_500
    assert SystemClock(wall_ns=lambda: wall, steady_ns=lambda: steady).unix_ms() == wall // 1_000_000


class Machine:
    """A machine whose clock can be set, and that can sleep and be switched on anew."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "clock.json"
        self.wall_ns, self.since_boot_ns, self.awake_ns, self.boot = 1_800_000_000 * 10**9, 10**9, 10**9, "one"

    def passes(self, seconds: float, *, asleep: bool = False) -> None:
        """Let time go by."""
        ns = round(seconds * 10**9)
        self.wall_ns, self.since_boot_ns = self.wall_ns + ns, self.since_boot_ns + ns
        self.awake_ns += 0 if asleep else ns

    def started(self, last_ms: int | None) -> SystemClock:
        """Start a server and give its clock."""
        clock = SystemClock(wall_ns=lambda: self.wall_ns, steady_ns=lambda: self.awake_ns)
        kept = KeptClock(self.path, clock, boot=lambda: self.boot, since_boot_ns=lambda: self.since_boot_ns)
        kept.settle(last_ms)
        return clock


@pytest.mark.parametrize(
    ("rest", "boot", "goes_on"),
    [
        ((90, False), "one", True),
        ((90, True), "one", True),
        ((90, False), "two", False),
        ((3_601, False), "one", False),
    ],
    ids=["a restart", "and a sleep", "switched on anew", "an hour later"],
)
@pytest.mark.parametrize("step_s", [-7_200, 3_600])
def test_a_restart_after_the_clock_was_set(
    tmp_path: Path, rest: tuple[int, bool], boot: str, goes_on: bool, step_s: int
) -> None:
    """In mid-heat the server's clock goes on as before; anew, or an hour after the last fact, it is the machine's."""
    machine = Machine(tmp_path)
    before = machine.started(None)
    machine.passes(60)
    last_ms = before.unix_ms()
    machine.passes(rest[0], asleep=rest[1])
    machine.wall_ns += step_s * 10**9
    machine.boot = boot
    after = machine.started(last_ms)
    assert after.unix_ms() == (last_ms + rest[0] * 1000 if goes_on else machine.wall_ns // 1_000_000)
    machine.passes(1)
    again = machine.started(after.unix_ms())
    assert again.unix_ms() == after.unix_ms()


@pytest.mark.parametrize("kept", [b"", b"[]", b'{"boot": "one"}', b'{"boot": "one", "apart_ns": "x"}'])
def test_a_kept_clock_that_cannot_be_read_is_made_anew(tmp_path: Path, kept: bytes) -> None:
    """Then the machine's clock counts, and is kept."""
    machine = Machine(tmp_path)
    machine.path.write_bytes(kept)
    assert machine.started(1_800_000_000_000 - 5).unix_ms() == machine.wall_ns // 1_000_000
    machine.passes(5)
    machine.wall_ns += 10**12
    assert machine.started(1_800_000_000_000).unix_ms() == 1_800_000_005_000
