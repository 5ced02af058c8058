"""Real processes killed while they append: no answered line is lost, doubled, changed or misnumbered."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

import pytest

from shell.journal_child import body_of
from shell.journal_contract import append, draft
from tallywire.core.errors import JournalDamaged, JournalFailed
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.seal import seal_path
from tallywire.shell.journal.sqlite import SqliteJournal

Answer = tuple[int, str, int]
"""An answered line as the child printed it: number, sender, sequence."""


def faults(answers: Iterable[Answer], lines: Sequence[Line]) -> list[str]:
    """List what is wrong with the lines of a recovered journal, given every answer there ever was."""
    found = [f"misnumbered {line.number}" for n, line in enumerate(lines, start=1) if line.number != n]
    found += [f"changed {line.number}" for line in lines if line.body != body_of(line.sender, line.sequence)]
    by_number = {line.number: (line.number, line.sender, line.sequence) for line in lines}
    found += [f"lost {answer}" for answer in answers if by_number.get(answer[0]) != answer]
    if len({(line.sender, line.sequence) for line in lines}) < len(lines):
        found.append("doubled")
    return found


@contextmanager
def child(path: Path, *mode: str, under: Sequence[str] = ()) -> Iterator[subprocess.Popen[str]]:
    """Start a process that appends to the journal at `path`; kill it at the end if it still lives.

    `under` is the command line of a program that runs it.
    """
    command = [*under, sys.executable, str(Path(__file__).with_name("journal_child.py")), str(path), *mode]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        try:
            yield process
        finally:
            process.kill()


def answers_until_killed(path: Path, rng: random.Random, *mode: str) -> list[Answer]:
    """Run a child, kill it after a random number of answers and a random moment more, and give all its answers."""
    with child(path, *mode) as process:
        assert process.stdout is not None
        wanted = rng.randrange(1, 600)
        printed = list(islice(process.stdout, wanted))
        # Answers come just after a commit: some more time lets the kill fall anywhere in the next one.
        for _ in range(rng.randrange(30_000)):
            pass
        process.kill()
        printed += process.stdout
    assert len(printed) >= wanted, "the child stopped by itself"
    return [(int(number), sender, int(sequence)) for number, sender, sequence in map(str.split, printed)]


async def recovered(path: Path) -> list[Line]:
    """Open the journal that a killed process left and give its lines."""
    journal = SqliteJournal.open(path)
    lines = list(journal.read())
    await journal.close()
    return lines


@pytest.mark.parametrize(
    ("rounds", "seed"), [pytest.param(12, 1, marks=pytest.mark.slow), pytest.param(60, 2, marks=pytest.mark.long)]
)
async def test_killed_writers_lose_nothing_that_was_answered(tmp_path: Path, rounds: int, seed: int) -> None:
    """However often the writer is killed in the middle, each answered line is there once, as it was, in its place."""
    path, rng = tmp_path / "heats.journal", random.Random(seed)
    answers: list[Answer] = []
    for _ in range(rounds):
        answers += answers_until_killed(path, rng)
        assert faults(answers, await recovered(path)) == []
    assert len(answers) > rounds


@pytest.mark.slow
async def test_the_kill_check_finds_a_writer_that_answers_early(tmp_path: Path) -> None:
    """The check above is able to fail: a writer that answers before its commit loses lines, and the seal says so."""
    path = tmp_path / "heats.journal"
    answers = answers_until_killed(path, random.Random(3), "early")
    with pytest.raises(JournalDamaged, match=r"missing: \d+ were sealed"):
        await recovered(path)
    seal_path(path).unlink()
    assert any(fault.startswith("lost") for fault in faults(answers, await recovered(path)))


@pytest.mark.slow
async def test_a_killed_process_frees_the_journal(tmp_path: Path) -> None:
    """While a process lives no other can open its journal; once it is killed the next one can."""
    path = tmp_path / "heats.journal"
    with child(path) as process:
        assert process.stdout is not None
        process.stdout.readline()
        with pytest.raises(JournalFailed, match=f"in use by process {process.pid}"):
            SqliteJournal.open(path)
    journal = SqliteJournal.open(path)
    assert await append(journal, draft(1, sender="next"))
    await journal.close()


def _line(number: int, sequence: int, *, body: bytes | None = None) -> Line:
    whole = body_of("pad-0", sequence) if body is None else body
    return draft(sequence, sender="pad-0", body=whole).as_line(number, received_unix_ms=0)


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        ([_line(1, 1)], "lost (2, 'pad-0', 2)"),
        ([_line(1, 1), _line(2, 3)], "lost (2, 'pad-0', 2)"),
        ([_line(1, 1), _line(2, 2), _line(3, 2)], "doubled"),
        ([_line(1, 1), _line(2, 2), _line(4, 3)], "misnumbered 4"),
        ([_line(1, 1), _line(2, 2, body=b"pad-0 2")], "changed 2"),
    ],
)
def test_the_kill_check_names_each_kind_of_fault(lines: Sequence[Line], fault: str) -> None:
    """A lost, a replaced, a doubled, a misnumbered and a changed line are each found."""
    answers = [(1, "pad-0", 1), (2, "pad-0", 2)]
    assert faults(answers, [_line(1, 1), _line(2, 2)]) == []
    assert fault in faults(answers, lines)
