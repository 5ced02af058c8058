"""One mutant's trial: the tests that reach it, in a process that has everything but the server imported already."""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from mutated.blocks import note_blocks
from mutated.changes import Mutant

ROOT = Path(__file__).parents[2]
FOLDERS = ("core", "formats", "oracle", "golden", "wire", "shell", "web")
"""The folders of tests that run in one process."""
OPTIONS = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not alone")
TEST_S, BUDGET_S = 6.0, 12.0
"""A test slower than the first number is left out; a mutant's tests take as long together as the second."""
CPU_S, WAIT_S = 90, 600.0
"""A mutant that takes so much processor time hangs, and so does one that is still waiting after so long."""
NEAREST = 30
"""So many tests are run first; the others only if these have noticed nothing."""


def make_map(copy: Path, kept: Path) -> None:
    """Run every test once in an instrumented copy of the server, and keep which blocks each has run."""
    note_blocks(copy / "tallywire")
    environment = os.environ | {"PYTHONPATH": f"{copy}:{ROOT / 'tests'}", "REACH_MAP": str(kept)}
    folders = [str(ROOT / "tests" / each) for each in FOLDERS]
    command = [sys.executable, "-m", "pytest", "-p", "mutated.reach", *OPTIONS, *folders]
    subprocess.run(command, cwd=ROOT, env=environment, check=False)


def tests_of(mutant: Mutant, reach: dict[str, Any]) -> list[str]:
    """Give the tests that run the mutant's block, those that run least besides first.

    What runs at an import is tested by those that run anything of the module.
    """
    found = [
        (len(test["blocks"]), test["s"], name)
        for name, test in reach.items()
        if test["s"] <= TEST_S and any(_is_at(mutant, *block) for block in test["blocks"])
    ]
    chosen, taken = [], 0.0
    for _, seconds, name in sorted(found):
        taken += seconds
        if taken > BUDGET_S:
            break
        chosen.append(name)
    return chosen


def _is_at(mutant: Mutant, module: str, block: int) -> bool:
    return module == mutant.module and mutant.block in (0, block)


def is_noticed(mutant: Mutant, copy: Path, reach: dict[str, Any]) -> bool:
    """Tell whether a test that reaches the mutant fails, hangs or cannot be collected."""
    tests = tests_of(mutant, reach)
    with _changed(copy / "tallywire" / mutant.module, mutant.source):
        return any(part and not _pass(part, copy) for part in (tests[:NEAREST], tests[NEAREST:]))


@contextmanager
def _changed(target: Path, source: str) -> Iterator[None]:
    before = target.read_text(encoding="utf-8")
    target.write_text(source, encoding="utf-8")
    try:
        yield
    finally:
        target.write_text(before, encoding="utf-8")


def _pass(tests: list[str], copy: Path) -> bool:
    child = os.fork()
    if child == 0:
        _run_and_exit(tests, copy)
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def _run_and_exit(tests: list[str], copy: Path) -> None:
    """Never returns: this is the child."""
    import pytest

    os.setpgid(0, 0)
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
    with Path(os.devnull).open("w", encoding="utf-8") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
        os.environ["PYTHONPATH"] = str(copy)
        sys.path.insert(0, str(copy))
        os.chdir(ROOT)
        code = 1
        try:
            code = int(pytest.main([*OPTIONS, "-x", *tests]))
        finally:
            os._exit(code)


def read_map(kept: Path) -> dict[str, Any]:
    """Give the map as it was kept."""
    found: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8"))
    return found
