"""The mutants' trials: one pytest session collects every test once, and each mutant has a fork of it to itself.

In the fork the functions of the mutant's module get the changed code, whoever holds them, and the tests that reach the
change run until one fails. So nothing is imported or collected twice. What runs at an import cannot be changed
afterwards: such a mutant has a process of its own that imports a changed copy of the server.
"""

from __future__ import annotations

import gc
import json
import os
import re
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

from mutated.blocks import note_blocks
from mutated.changes import Mutant

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "server" / "tallywire"
_OF = ("core", "formats", "oracle", "golden", "wire", "shell", "web", "docs", "cli", "scenarios")
FOLDERS = tuple(str(ROOT / "tests" / each) for each in _OF)
"""The folders of tests that run in one process."""
OPTIONS = ("-q", "-s", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not alone")
TEST_S, BUDGET_S = 6.0, 30.0
"""A test slower than the first number is left out; a mutant's tests take as long together as the second."""
MAP_S = 60
"""A test that takes longer while the map is made is left out of it, because it would be too slow to be asked."""
CPU_S, WAIT_S = 90, 900.0
"""A mutant that takes so much processor time hangs, and so does one that is still waiting after so long.

The second is by the clock: on a busy machine, at low priority, whatever takes `BUDGET_S` of the processor may take many
minutes, and one that was merely slow would count as noticed.
"""


def make_map(copy: Path, kept: Path) -> None:
    """Run every test once in an instrumented copy of the server, and keep which blocks each has run."""
    note_blocks(copy / "tallywire")
    environment = os.environ | {"PYTHONPATH": f"{copy}:{ROOT / 'tests'}", "REACH_MAP": str(kept)}
    command = [sys.executable, "-m", "pytest", "-p", "mutated.reach", f"--timeout={MAP_S}", *OPTIONS, *FOLDERS]
    subprocess.run(command, cwd=ROOT, env=environment, check=False)


def read_map(kept: Path) -> dict[str, Any]:
    """Give the map as it was kept."""
    found: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8"))
    return found


def tests_of(mutant: Mutant, reach: dict[str, Any]) -> list[str]:
    """Give the tests that run the mutant's block, those that run least besides first.

    What runs at an import is tested by every test of a file that imports the module, or in which one runs any of it.
    """
    at = {name for name, test in reach.items() if any(_is_at(mutant, *block) for block in test["blocks"])}
    if mutant.block == 0:
        files = {_file(name) for name in at} | {file for file in map(_file, reach) if _imports(file, mutant.module)}
        at = {name for name in reach if _file(name) in files}
    found = [(len(reach[name]["blocks"]), reach[name]["s"], name) for name in at if reach[name]["s"] <= TEST_S]
    chosen, taken = [], 0.0
    for _, seconds, name in sorted(found):
        taken += seconds
        if taken > BUDGET_S:
            break
        chosen.append(name)
    return chosen


def _file(test: str) -> str:
    return test.partition("::")[0]


@cache
def _imports(file: str, module: str) -> bool:
    package, _, name = module.removesuffix(".py").replace("/", ".").rpartition(".")
    text = (ROOT / file).read_text(encoding="utf-8")
    return re.search(rf"^from tallywire\.{package}(\.{name} import| import .*\b{name}\b)", text, re.M) is not None


def _is_at(mutant: Mutant, module: str, block: int) -> bool:
    return module == mutant.module and mutant.block in (0, block)


@dataclass
class Trials:
    """A plug-in of pytest that tries mutants instead of running the session's tests, and tells what came of each.

    `told` is called with a mutant and whether it was noticed; `copy` is a copy of the server for those that need one.
    `unsound` are the tests that were found to fail in a fork without any change.
    """

    mutants: Sequence[Mutant]
    reach: dict[str, Any]
    copy: Path
    told: Callable[[Mutant, bool], None]
    unsound: set[str] = field(default_factory=set)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try every mutant. A test that fails in a fork without any change is not asked again."""
        items = {item.nodeid: item for item in session.items}
        for mutant in self.mutants:
            tests = [items[name] for name in tests_of(mutant, self.reach) if name in items]
            self.told(mutant, bool(tests) and self._is_noticed(mutant, tests))
        return True

    def _is_noticed(self, mutant: Mutant, tests: Sequence[pytest.Item]) -> bool:
        changed = [] if mutant.block == 0 else list(_changed(mutant))
        if not changed:
            return self._is_noticed_in_a_copy(mutant, tests)
        while asked := [test for test in tests if test.nodeid not in self.unsound]:
            first = _first_failed(asked, changed)
            if first is None:
                return False
            again = asked[first : first + 1] or asked
            if _first_failed(again, ()) is None:
                return True
            self.unsound.update(test.nodeid for test in again)
        return False

    def _is_noticed_in_a_copy(self, mutant: Mutant, tests: Sequence[pytest.Item]) -> bool:
        target = self.copy / "tallywire" / mutant.module
        before = target.read_text(encoding="utf-8")
        target.write_text(mutant.source, encoding="utf-8")
        command = [sys.executable, "-m", "pytest", *OPTIONS, "-x", *(item.nodeid for item in tests)]
        try:
            environment = os.environ | {"PYTHONPATH": str(self.copy)}
            done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, timeout=WAIT_S, check=False)
            return done.returncode != 0
        except subprocess.TimeoutExpired:
            return True
        finally:
            target.write_text(before, encoding="utf-8")


def _changed(mutant: Mutant) -> Iterator[tuple[FunctionType, CodeType]]:
    """The functions of the mutant's module, with their code after the change; none where the two do not pair up."""
    file = PACKAGE / mutant.module
    whole = [list(_codes(compile(text, file, "exec"))) for text in (file.read_text(encoding="utf-8"), mutant.source)]
    if [code.co_qualname for code in whole[0]] != [code.co_qualname for code in whole[1]]:
        return
    after = {(old.co_qualname, old.co_firstlineno): new for old, new in zip(*whole, strict=True)}
    for each in gc.get_objects():
        if isinstance(each, FunctionType) and each.__code__.co_filename == str(file):
            new = after.get((each.__code__.co_qualname, each.__code__.co_firstlineno))
            if new is not None and new.co_freevars == each.__code__.co_freevars:
                yield each, new


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for const in code.co_consts:
        if isinstance(const, CodeType):
            yield from _codes(const)


def _first_failed(tests: Sequence[pytest.Item], changed: Sequence[tuple[FunctionType, CodeType]]) -> int | None:
    """Run tests in a fork with changed functions until one fails: its number, or theirs where the fork breaks or hangs.

    None where all pass.
    """
    came, gone = os.pipe()
    child = os.fork()
    if child == 0:
        _end_with(tests, changed, gone)
    os.close(gone)
    until = time.monotonic() + WAIT_S
    try:
        while time.monotonic() < until:
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended:
                said = os.read(came, 100)
                return None if status == 0 else int(said) if said else len(tests)
            time.sleep(0.02)
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
    finally:
        os.close(came)
        # A test that failed leaves the servers that it had started.
        with suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
    return len(tests)


def _end_with(tests: Sequence[pytest.Item], changed: Sequence[tuple[FunctionType, CodeType]], told: int) -> None:
    """Never returns: this is the child."""
    code = 1
    try:
        os.setpgid(0, 0)
        resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        for function, changed_code in changed:
            function.__code__ = changed_code
        failed = _play(tests)
        if failed is None:
            code = 0
        else:
            os.write(told, str(failed).encode())
    finally:
        os._exit(code)


def _play(tests: Sequence[pytest.Item]) -> int | None:
    """Run tests until one fails, and give its number."""
    for number, (item, following) in enumerate(zip(tests, [*tests[1:], None], strict=True)):
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
            return number
    return None
