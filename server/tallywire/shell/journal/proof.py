"""A long journal is proven by a process of its own while this one reads it: on two cores a start takes a third less.

    python -m tallywire.shell.journal.proof PATH

examines the journal at PATH, whose lock somebody else holds, and prints what it found as JSON. Every line is proven all
the same: if anything is wrong, or it found another end than was read, or came to none, the journal is examined in one
go, which says what is wrong.
"""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from tallywire.shell.journal.examine import Take, examine, rows_of
from tallywire.shell.journal.findings import Findings
from tallywire.shell.journal.seal import read_seal
from tallywire.shell.own_python import own_environment

LONG = 100_000
"""So many lines are worth a process: reading them takes as long as to start it, five times over."""
_log = logging.getLogger(__name__)


class Reader(Protocol):
    """Takes the rows of a journal; what it has taken counts if no error is raised afterwards."""

    @property
    def take(self) -> Take:
        """Takes the next rows."""
        ...

    def begin_anew(self) -> None:
        """Forget every row."""
        ...


def examine_for(reader: Reader | None, path: Path) -> Findings:
    """Examine a journal, and hand each of its sound lines to a reader. Raises as `examine` does."""
    if reader is None:
        return examine(path)
    seal = read_seal(path).seal
    if seal is not None and seal.count >= LONG and _cores() > 1:
        found = _beside(path, reader)
        if found is not None:
            return found
        reader.begin_anew()
    return examine(path, take=reader.take)


def _cores() -> int:
    """The cores that this process may use, where the system can say so."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _beside(path: Path, reader: Reader) -> Findings | None:
    """Read what a process proves meanwhile; None when anything is wrong, and nothing that was read counts."""
    found = Findings(where=str(path), named=str(path.parent), seal=read_seal(path).seal)
    try:
        with _proving(path) as process:
            for rows in rows_of(path):
                reader.take(rows)
                found.last, found.head = rows[-1][0], rows[-1][-1]
            said = json.loads(process.communicate()[0])
        is_proven = not said["faults"] and (said["last"], said["head"]) == (found.last, found.head.hex())
        found.version, found.notes, found.remarks = said["version"], said["notes"], said["remarks"]
    except Exception as exc:
        # Whatever it is, it is said when the journal is examined in one go.
        _log.info("the journal %s could not be proven beside its reading: %s", path, exc)
        return None
    return found if is_proven else None


@contextmanager
def _proving(path: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Run the process, and end it in any case."""
    with subprocess.Popen(  # noqa: S603
        [sys.executable, "-m", __name__, str(path)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=own_environment(),
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def main() -> None:
    """Examine one journal."""
    found = examine(Path(sys.argv[1]))
    said = {
        "version": found.version,
        "last": found.last,
        "head": found.head.hex(),
        "notes": found.notes,
        "faults": found.faults,
        "remarks": found.remarks,
    }
    print(json.dumps(said))


if __name__ == "__main__":
    main()
