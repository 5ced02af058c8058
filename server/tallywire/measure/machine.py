"""The machine that measures: what it is, whether it is idle, its cores, and what a process takes of it."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tallywire.core.errors import TallywireError

IDLE_LOAD = 0.5
"""A load average above this says that something else runs."""
_PROC = Path("/proc")
_PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The machine at the moment when it was asked."""

    cores: int
    load: float
    system: str
    python: str

    @classmethod
    def now(cls) -> Machine:
        """Look at this machine."""
        return cls(
            cores=len(cores()),
            load=round(os.getloadavg()[0], 2),
            system=f"{platform.system()} {platform.machine()}",
            python=platform.python_version(),
        )

    @property
    def warning(self) -> str | None:
        """Say what makes the figures worse than they are, None when nothing does."""
        if len(cores()) < 2:
            return "found one core, expected two: server and load share it, so every figure is worse"
        if self.load > IDLE_LOAD:
            return f"found a load of {self.load}, expected an idle machine: figures vary, trust only ratios"
        return None


@cache
def cores() -> list[int]:
    """Give the cores that this process may use before it is kept on one of them."""
    if hasattr(os, "sched_getaffinity"):
        return sorted(os.sched_getaffinity(0))
    return list(range(os.cpu_count() or 1))


def server_core() -> int:
    """Give the core that servers are kept on."""
    return cores()[0]


def load_core() -> int:
    """Give the core of those who load them: another one where there are two."""
    return cores()[-1]


@contextmanager
def kept_on(core: int) -> Iterator[None]:
    """Keep this process, and those that it starts meanwhile for good, on one core, where the system can."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {core})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


def let_run_anywhere(pid: int) -> None:
    """Let what a process has started, not itself, run on any core again, as where nothing is kept on one."""
    for each in processes(pid):
        for task in (_PROC / str(each) / "task").iterdir() if each != pid else ():
            os.sched_setaffinity(int(task.name), cores())


def processes(pid: int) -> Iterator[int]:
    """Give a process and all that it has started and that still run."""
    _need_proc()
    yield pid
    for task in (_PROC / str(pid) / "task").iterdir():
        for child in (task / "children").read_text(encoding="ascii").split():
            yield from processes(int(child))


def worked_ms(pid: int) -> float:
    """Give the processor time so far of a process, its threads and its children (proc(5), schedstat)."""
    stats = [task / "schedstat" for each in processes(pid) for task in (_PROC / str(each) / "task").iterdir()]
    return sum(int(each.read_text(encoding="ascii").split()[0]) for each in stats) / 1e6


def resident_bytes(pid: int) -> int:
    """Give the memory that a process and its children have (proc(5), statm), pages that they share counted twice."""
    statms = [_PROC / str(each) / "statm" for each in processes(pid)]
    return sum(int(each.read_text(encoding="ascii").split()[1]) for each in statms) * _PAGE


def _need_proc() -> None:
    if not (_PROC / "self" / "schedstat").exists():
        raise TallywireError("found no /proc, expected Linux: what is measured from outside a process needs it")
