"""The pages' own checks, so that one command runs everything: node's tests and the type checker."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import pytest

from tallywire.wire.catalogue import catalogue, script

HERE = Path(__file__).parent


def run(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command in this folder and keep what it prints."""
    env = {**os.environ, **environment}
    return subprocess.run(command, cwd=HERE, capture_output=True, text=True, check=False, env=env)


@pytest.fixture(name="words", scope="module")
def _words(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The English words as a page's first script has them."""
    path = tmp_path_factory.mktemp("words") / "en.js"
    path.write_text(script(catalogue("en")), encoding="utf-8")
    return str(path)


def test_pure_modules_pass_their_tests(words: str) -> None:
    """`node --test` finds tests in this folder, and all pass."""
    done = run("node", "--import", "./words.js", "--test", "--test-reporter=tap", TALLYWIRE_WORDS=words)
    assert done.returncode == 0, done.stdout + done.stderr
    passed = re.search(r"^# pass (\d+)$", done.stdout, re.MULTILINE)
    assert passed is not None
    assert int(passed[1]) > 0


def test_pages_are_typed() -> None:
    """`tsc` finds nothing in overlay/ (run `npm ci` in this folder first)."""
    done = run("node_modules/.bin/tsc", "--project", "tsconfig.json")
    assert done.returncode == 0, done.stdout + done.stderr
