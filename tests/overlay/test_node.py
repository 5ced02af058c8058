"""The pages' own checks, so that one command runs everything: node's tests and the type checker."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

HERE = Path(__file__).parent


def run(*command: str) -> subprocess.CompletedProcess[str]:
    """Run a command in this folder and keep what it prints."""
    return subprocess.run(command, cwd=HERE, capture_output=True, text=True, check=False)


def test_pure_modules_pass_their_tests() -> None:
    """`node --test` finds tests in this folder, and all pass."""
    done = run("node", "--test", "--test-reporter=tap")
    assert done.returncode == 0, done.stdout + done.stderr
    passed = re.search(r"^# pass (\d+)$", done.stdout, re.MULTILINE)
    assert passed is not None
    assert int(passed[1]) > 0


def test_pages_are_typed() -> None:
    """`tsc` finds nothing in overlay/ (run `npm ci` in this folder first)."""
    done = run("node_modules/.bin/tsc", "--project", "tsconfig.json")
    assert done.returncode == 0, done.stdout + done.stderr
