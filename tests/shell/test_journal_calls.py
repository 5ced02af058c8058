"""What the journal's process asks of the system: the order of sync and answer, and a kill at each sync."""

from __future__ import annotations

import os
import re
import signal
from itertools import islice
from pathlib import Path

import pytest

from e2e.strace import (
    SYNCS,
    Call,
    answered_too_early,
    calls_in,
    can_trace,
    nth_of_its_name,
    syncs_in,
    tracing,
)
from shell.test_journal_crash import Answer, child, faults, recovered
from tallywire.core.errors import JournalDamaged

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not can_trace(), reason="found no strace that may trace")]
FIRST = 60
"""So many syncs are tried; a first start has some ten."""


def ids(text: str) -> list[str]:
    """Find the lines in a page of the log: `journal_child.body_of` gives each its sender and number."""
    return [f"{sender} {sequence}" for sender, sequence in re.findall(r"(pad-\d+) (\d+) \1 \2 ", text)]


def answers(call: Call) -> list[str]:
    """Find the lines that a call answers."""
    return [each[1] for each in re.finditer(r"\d+ (pad-\d+ \d+)\\n", call.text)] if call.name == "write" else []


def traced(path: Path, *mode: str, wanted: int = 200) -> list[Call]:
    """Run a child under strace until it has answered so many lines, and give its calls."""
    out = path.with_name("trace")
    with child(path, *mode, under=tracing(out, "pwrite64", "write", *SYNCS)) as process:
        assert process.stdout is not None
        assert len(list(islice(process.stdout, wanted))) == wanted
        kill_child(path)
    return calls_in(out.read_text(encoding="utf-8", errors="replace").splitlines())


def kill_child(path: Path) -> None:
    """Kill the process that has the journal: strace ends with it."""
    os.kill(int(path.with_name(f"{path.name}.lock").read_text()), signal.SIGKILL)


def test_no_line_is_answered_before_its_sync_by_system_calls(tmp_path: Path) -> None:
    """Of 200 lines of 16 senders each answer goes out after the sync that followed its writing has returned."""
    count, early = answered_too_early(traced(tmp_path / "heats.journal"), ids=ids, answers=answers)
    assert count >= 200
    assert early == []


def test_the_order_of_calls_shows_a_journal_that_does_not_sync(tmp_path: Path) -> None:
    """The check above is able to fail: with commits that are not synced answers come too early."""
    count, early = answered_too_early(traced(tmp_path / "heats.journal", "unsynced"), ids=ids, answers=answers)
    assert count >= 200
    assert len(early) > 100


def killed_at(path: Path, name: str, number: int, *mode: str) -> list[Answer]:
    """Run a child that dies as it begins the n-th sync of this name, and give what it had answered."""
    inject = [f"{name}:signal=SIGKILL:when={number}"]
    with child(path, *mode, under=tracing(Path("/dev/null"), *SYNCS, inject=inject)) as process:
        assert process.stdout is not None
        printed = [line.split() for line in process.stdout]
    return [(int(number), sender, int(sequence)) for number, sender, sequence in printed]


@pytest.mark.parametrize("step", [12, pytest.param(1, marks=pytest.mark.long)])
async def test_a_kill_at_any_of_the_first_syncs_takes_nothing_that_was_answered(tmp_path: Path, step: int) -> None:
    """From the first sync of the very first start on, every twelfth (`--long`: each) of the first sixty."""
    names = syncs_in(traced(tmp_path / "heats.journal", wanted=1500))
    assert len(names) >= FIRST
    answered = 0
    for n in range(0, FIRST, step):
        folder = tmp_path / str(n)
        folder.mkdir()
        found = killed_at(folder / "heats.journal", *nth_of_its_name(names, n))
        assert faults(found, await recovered(folder / "heats.journal")) == [], f"killed at sync {n + 1}"
        answered += len(found)
    print(f"killed at {len(range(0, FIRST, step))} of the first {FIRST} syncs, {answered} lines answered")
    assert answered > 0


async def test_the_kill_at_a_sync_finds_a_writer_that_answers_early(tmp_path: Path) -> None:
    """The check above is able to fail: killed at the seal's second sync, one that answered too early is found."""
    path = tmp_path / "heats.journal"
    assert len(killed_at(path, "msync", 2, "early")) > 0
    with pytest.raises(JournalDamaged, match=r"missing: \d+ were sealed"):
        await recovered(path)
