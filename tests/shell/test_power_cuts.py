"""The power is cut at any point of a journal's life: what was not synced is dropped or torn, what was answered stays.

The simulator stands below SQLite (simulated/vfs.py) and knows what POSIX promises of a sync (simulated/disk.py).
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from random import Random

import pytest

from shell.journal_damage import NAME, folder
from simulated.cuts import NotSynced, OftenTakenIn, Written, cut_off, fault_after, written
from simulated.disk import Disk, Op
from simulated.plot import IOERR_SYNC
from simulated.vfs import Layer, is_possible
from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.line_file import open_lines
from tallywire.shell.journal.port import Draft

pytestmark = pytest.mark.skipif(not is_possible(), reason="this Python's SQLite is no library that can be watched")
LONG = pytest.mark.long


def outcomes(done: Written, cuts: int, seed: int) -> Counter[str]:
    """Cut the power at so many points of a run, half of them right after an acknowledgement, and count how it went."""
    dice = Random(seed)
    after_answers = [after for after, _ in done.acknowledged]
    points = [dice.randrange(len(done.disk.log) + 1) for _ in range(cuts // 2)]
    points += [dice.choice(after_answers) for _ in range(cuts - cuts // 2)]
    faults = [fault_after(done, point, contents) for point, contents in cut_off(done, points, dice)]
    return Counter("fine" if fault is None else fault.partition(":")[0] for fault in faults)


def counted(factory: type[sqlite3.Connection], *, runs: int, cuts: int) -> Counter[str]:
    """Cut several runs off."""
    return sum((outcomes(written(seed, factory), cuts, seed) for seed in range(runs)), Counter[str]())


@pytest.mark.parametrize("runs", [1, pytest.param(10, marks=LONG)])
def test_a_power_cut_takes_nothing_that_was_acknowledged(runs: int) -> None:
    """A hundred cuts a run: every start finds each acknowledged line as it was, in order, and goes on."""
    counts = counted(OftenTakenIn, runs=runs, cuts=100)
    print("power cuts:", dict(counts))
    assert counts == {"fine": 100 * runs}


@pytest.mark.parametrize("runs", [1, pytest.param(10, marks=LONG)])
def test_without_the_sync_before_the_answer_power_cuts_lose(runs: int) -> None:
    """The check above is able to fail: with `synchronous = NORMAL` lines are gone, and mostly the seal says so."""
    counts = counted(NotSynced, runs=runs, cuts=100)
    print("power cuts without the sync:", dict(counts))
    assert counts["lost"] + counts["named"] > 10 * runs


def test_a_simulated_disk_keeps_what_was_synced_and_nothing_for_certain_beside() -> None:
    """The simulator itself: a synced write is always there; one that was not is there, gone or torn, as dice say."""
    disk, seen = Disk(), Counter[bytes | None]()
    disk.do("f", Op(0, b"a" * 1024))
    disk.sync("f")
    disk.do("f", Op(0, b"b" * 1024))
    for seed in range(200):
        seen[disk.after_power_cut(Random(seed))["f"]] += 1
    old, new = b"a" * 512, b"b" * 512
    assert set(seen) == {old + old, new + new, old + new, new + old}


def opened_with_an_error(sync: int) -> str:
    """Make a journal on a disk that fails at its n-th sync, and say how it went."""
    disk, left = Disk(), sync
    layer = Layer(disk)

    def fault(kind: str, _path: str) -> int:
        nonlocal left
        left -= kind == "sync"
        return IOERR_SYNC if kind == "sync" and left == 0 else 0

    layer.fault = fault
    with folder() as place, layer.in_use():
        try:
            with open_lines(place / NAME, sqlite3.Connection) as file:
                file.write([([Draft(sender="lane-1-a", sequence=1, body=b"{}")], 1)])
                return "with a log" if (place / f"{NAME}-wal").exists() else "without a log"
        except (JournalFailed, sqlite3.Error):
            return "failed"


def test_a_first_start_fails_when_a_sync_does() -> None:
    """Whichever sync of a first start fails, it is told; never is a journal gone on with that has not got its log."""
    outcomes = [opened_with_an_error(sync) for sync in range(1, 9)]
    assert outcomes == ["failed"] * 6 + ["with a log"] * 2
