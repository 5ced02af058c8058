"""Cores, processor time and memory, as the system itself tells them."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator

import pytest

from tallywire.measure.machine import cores, kept_on, load_core, processes, resident_bytes, server_core, worked_ms

_FAMILY = """
import subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", "print('up', flush=True); sum(range(3_000_000)); input()"], text=True)
hold = bytearray(50_000_000)
input()
"""


@pytest.fixture
def family() -> Iterator[subprocess.Popen[str]]:
    """Give a process that has started another one and holds fifty megabytes."""
    command = [sys.executable, "-c", _FAMILY]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        assert process.stdout.readline() == "up\n"
        yield process
        process.stdin.write("\n\n")


def test_children_are_counted(family: subprocess.Popen[str]) -> None:
    """Processor time and memory are those of a process and of what it started."""
    parent, child = processes(family.pid)
    assert parent == family.pid
    # Asked for in this order: the sum is taken last, and time only grows.
    apart = worked_ms(child)
    assert worked_ms(parent) > apart > 0
    assert resident_bytes(parent) > resident_bytes(child) > 0


def test_time_is_the_processors() -> None:
    """What this process works between two readings is between them, as its own clock has it (clock_gettime(2))."""
    before, begun = worked_ms(os.getpid()), os.times()
    while (now := os.times()).user + now.system - begun.user - begun.system < 0.3:
        pass
    assert worked_ms(os.getpid()) - before >= 250


def test_a_process_is_kept_on_its_core() -> None:
    """What is started there stays there; this process goes where it was."""
    before = os.sched_getaffinity(0)
    with kept_on(server_core()):
        asked = [sys.executable, "-c", "import os; print(os.sched_getaffinity(0))"]
        said = subprocess.run(asked, capture_output=True, check=True, text=True).stdout
        assert len(cores()) == len(before), "the machine has as many cores as before"
    assert said.strip() == str({server_core()})
    assert os.sched_getaffinity(0) == before
    assert (server_core() != load_core()) == (len(before) > 1)
