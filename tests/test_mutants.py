"""A dozen changes that once went unnoticed are noticed: a small version of what `tests/mutate.py` does at random."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from mutated import trial
from mutated.changes import Mutant
from mutated.trial import PACKAGE

TESTS: list[Any] = [SimpleNamespace(nodeid="one"), SimpleNamespace(nodeid="two")]
MUTANT = Mutant(module="core/x.py", line=2, block=1, change="a -> b", text="a", source="b")


def test_changes_that_put_a_wrong_number_on_the_air_are_noticed() -> None:
    """Each by the test that stands with it in tests/mutated/named.toml."""
    tool = Path(__file__).parent / "mutate.py"
    done = subprocess.run([sys.executable, tool, "--named"], capture_output=True, text=True, check=True)
    assert "12 mutants named: 12 noticed, 100.0 %" in done.stdout, done.stdout


def test_what_is_said_to_change_nothing_is_still_there() -> None:
    """Each line of tests/mutated/equivalent.toml stands in its module."""
    named = tomllib.loads((Path(__file__).parent / "mutated" / "equivalent.toml").read_text(encoding="utf-8"))
    gone = [
        (each["module"], each["line"])
        for each in named["equivalent"]
        if each["line"] not in map(str.strip, (PACKAGE / each["module"]).read_text(encoding="utf-8").splitlines())
    ]
    assert gone == []


def fails(*names: str) -> Callable[[str], bool]:
    """Whether a test is one of these."""
    return lambda name: name in names


@pytest.mark.parametrize(
    ("changed", "unchanged", "noticed", "unsound"),
    [
        (fails(), fails(), False, set()),
        (fails("two"), fails(), True, set()),
        (fails("one", "two"), fails("one"), True, {"one"}),
        (fails("one", "two"), fails("one", "two"), False, {"one", "two"}),
    ],
)
def test_only_a_test_that_passes_without_the_change_notices_it(
    monkeypatch: pytest.MonkeyPatch,
    changed: Callable[[str], bool],
    unchanged: Callable[[str], bool],
    noticed: bool,
    unsound: set[str],
) -> None:
    """One that fails either way is asked no more; where all do, nothing was noticed."""

    def first_failed(tests: Sequence[Any], code: Sequence[Any]) -> int | None:
        assert tests
        return next((n for n, test in enumerate(tests) if (changed if code else unchanged)(test.nodeid)), None)

    monkeypatch.setattr(trial, "_first_failed", first_failed)
    monkeypatch.setattr(trial, "_changed", lambda _mutant: [("a function", "its code")])
    trials = trial.Trials([MUTANT], {}, Path(), lambda *_: None)
    assert trials._is_noticed(MUTANT, TESTS) is noticed
    assert trials.unsound == unsound


@pytest.mark.parametrize(("breaks_unchanged", "noticed"), [(False, True), (True, False)])
def test_a_fork_that_breaks_counts_only_where_it_does_not_break_without_the_change(
    monkeypatch: pytest.MonkeyPatch, breaks_unchanged: bool, noticed: bool
) -> None:
    """Breaking or hanging names no test: then all of them are tried without the change."""
    monkeypatch.setattr(trial, "_first_failed", lambda tests, code: len(tests) if code or breaks_unchanged else None)
    monkeypatch.setattr(trial, "_changed", lambda _mutant: [("a function", "its code")])
    assert trial.Trials([MUTANT], {}, Path(), lambda *_: None)._is_noticed(MUTANT, TESTS) is noticed
