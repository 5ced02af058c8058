"""A journal that is proven beside its reading is found as one that is examined in one go, whatever is wrong with it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from shell.journal_damage import RECORDS, Files, cut, folder, killed, stopped, without
from tallywire.shell.journal import proof
from tallywire.shell.journal.examine import examine
from tallywire.shell.journal.findings import Findings
from tallywire.shell.journal.port import Row
from tallywire.shell.journal.proof import examine_for

in_order, by_kill = cache(stopped), cache(killed)


class Rows:
    """A reader that keeps what it is given."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self.begun = 0

    def take(self, rows: Sequence[Row]) -> None:
        """Keep some."""
        self.rows += rows

    def begin_anew(self) -> None:
        """Forget all."""
        self.rows.clear()
        self.begun += 1


@pytest.fixture(autouse=True)
def _every_journal_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proof, "LONG", 1)
    monkeypatch.setattr(proof, "_cores", lambda: 2)


def seen(files: Files, examined: Any) -> tuple[str, Findings | None, list[Row], int]:
    """Examine a journal, and give its error or what was found, the rows that were handed on, and how often anew."""
    reader = Rows()
    with folder() as place:
        path = files.put(place)
        try:
            found = examined(reader, path)
        except Exception as exc:
            return f"{type(exc).__name__}: {exc}".replace(str(place), ""), None, [], 0
        found.where, found.named = "", ""
        return "", found, reader.rows, reader.begun


def in_one_go(files: Files) -> tuple[str, Findings | None, list[Row]]:
    """What is found in one go, and the rows that are handed on."""
    return seen(files, lambda reader, path: examine(path, take=reader.take))[:3]


@pytest.mark.parametrize("files", [in_order, by_kill])
def test_a_sound_journal_is_read_once(files: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not examined here at all: every line is proven by the process."""
    expected = in_one_go(files())
    monkeypatch.setattr(proof, "examine", None)
    *found, begun = seen(files(), examine_for)
    assert (tuple(found), begun) == (expected, 0)
    assert len(expected[2]) == RECORDS


@pytest.mark.parametrize("sample", [40, pytest.param(1500, marks=pytest.mark.long)])
def test_damage_is_found_all_the_same(sample: int) -> None:
    """Bits flipped at random in each file: what is found, and every sound row, is the same, and no row comes twice."""
    random, damaged = Random(sample), 0
    for files in (in_order(), by_kill()):
        for end, data in files.data.items():
            for _ in range(sample // 5):
                flipped = files.flipped(end, random.randrange(8 * len(data)))
                error, found, rows = in_one_go(flipped)
                assert seen(flipped, examine_for)[:3] == (error, found, rows)
                damaged += bool(error or (found and found.faults))
    assert damaged > sample // 5


@pytest.mark.parametrize("files", [lambda: cut(by_kill(), "-wal", 100_000), lambda: without(in_order(), ".seal")])
def test_missing_files_are_found_all_the_same(files: Any) -> None:
    """Half of the log, or the seal: as in one go."""
    assert seen(files(), examine_for)[:3] == in_one_go(files())


@contextmanager
def _says(text: str) -> Iterator[Any]:
    class Process:
        """A process that has said something."""

        @staticmethod
        def communicate() -> tuple[bytes, None]:
            """Give what it said."""
            return text.encode(), None

    yield Process()


def said(**other: Any) -> str:
    """What a process says of the journal that was closed in order, with something else in it."""
    found = in_one_go(in_order())[1]
    assert found is not None
    sound = {"version": found.version, "last": found.last, "head": found.head.hex(), "notes": {}, "faults": []}
    return json.dumps({**sound, "remarks": [], **other})


@pytest.mark.parametrize(
    "text",
    ["", "{", "null", said(last=RECORDS - 1), said(head="00" * 32), said(faults=["line 3 is not sound"])],
    ids=["nothing", "half", "null", "another end", "another chain", "damage"],
)
def test_a_process_that_says_anything_else_is_not_believed(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Then the journal is examined in one go, and each row comes once."""
    monkeypatch.setattr(proof, "_proving", lambda _path: _says(text))
    *found, begun = seen(in_order(), examine_for)
    assert (tuple(found), begun) == (in_one_go(in_order()), 1)


def test_a_process_that_says_the_right_thing_is_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that the tests above fail for what they name, and not for another reason."""
    monkeypatch.setattr(proof, "_proving", lambda _path: _says(said()))
    assert seen(in_order(), examine_for)[3] == 0


def test_a_process_that_cannot_be_started_is_done_without(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """As where no process may be started, and where it ends at once."""
    for program in (tmp_path / "missing", "/bin/false"):
        monkeypatch.setattr(sys, "executable", str(program))
        *found, begun = seen(in_order(), examine_for)
        assert (tuple(found), begun) == (in_one_go(in_order()), 1)


def test_a_reader_that_fails_on_a_row_begins_anew() -> None:
    """A damaged row may not be readable as a fact: the reader fails, and is given the sound rows alone."""

    class Picky(Rows):
        """A reader that fails once."""

        def take(self, rows: Sequence[Row]) -> None:
            """Fail at the first rows of the first time."""
            if not self.begun:
                raise KeyError("fact")
            super().take(rows)

    reader = Picky()
    with folder() as place:
        examine_for(reader, in_order().put(place))
    assert (len(reader.rows), reader.begun) == (RECORDS, 1)


def test_few_lines_are_not_worth_a_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """A short journal, and one on a machine of one core, is examined in one go at once."""
    monkeypatch.setattr(proof, "_proving", None)
    monkeypatch.setattr(proof, "LONG", RECORDS + 1)
    assert seen(in_order(), examine_for)[3] == 0
    monkeypatch.setattr(proof, "LONG", RECORDS)
    assert seen(in_order(), examine_for)[3] == 1
    monkeypatch.setattr(proof, "_cores", lambda: 1)
    assert seen(in_order(), examine_for)[3] == 0
