"""From a journal on the disk to books that are filled, and how much memory a fact takes in them.

    python -m tallywire.measure.rebuild FILE

does it once in this process, and prints the figures as JSON.
"""

from __future__ import annotations

import asyncio
import gc
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.measure.figures import Figure, FigureTable, Goal
from tallywire.measure.long_heat import long_competition, started, taps
from tallywire.measure.machine import resident_bytes
from tallywire.measure.scale import Scale
from tallywire.shell.books import Books
from tallywire.shell.clock import SystemClock
from tallywire.shell.collection import uncollected
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.public_tape import Tape
from tallywire.shell.restoring import OldLines, Restoring
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.senders import Senders

LANES = 10
GOAL_FACTS = 494_000
"""The size of competition for which the goals were set."""
_TAPS = 1000
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """One rebuild: seconds by the wall and of this process, and bytes of resident memory for each fact."""

    wall_s: float
    worked_s: float
    fact_bytes: float


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Write a journal, and read it again and again, each time in a process of its own."""
    facts = GOAL_FACTS if scale.long else scale.sized(250_000, quick=2_000)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.sqlite"
        asyncio.run(_write(path, [started(), *islice(taps(lanes=LANES), facts - 1)]))
        command = [sys.executable, "-m", "tallywire.measure.rebuild", str(path)]
        runs = [Rebuilt(**json.loads(subprocess.check_output(command))) for _ in range(scale.repeats)]  # noqa: S603
    wall, worked = Figure.of(run.wall_s for run in runs), Figure.of(run.worked_s for run in runs)
    each, size = Figure.of(run.wall_s / facts * 1e6 for run in runs), Figure.of(run.fact_bytes for run in runs)
    whole = Figure.of(run.wall_s / facts * GOAL_FACTS for run in runs)
    yield FigureTable(
        title=f"The books of {facts:,} facts again from their journal, every line checked",
        columns=("seconds", "of the process that starts", "µs a fact", "bytes a fact"),
        rows=((wall, worked, each, size),),
        goals=(
            Goal(says=f"{GOAL_FACTS:,} facts at that pace", found=whole, bound=2.5, unit="s"),
            Goal(says="memory of a fact", found=size, bound=350, unit="bytes"),
        ),
    )


async def _write(path: Path, facts: list[Fact]) -> None:
    journal = SqliteJournal.open(path)
    drafts = [Draft(sender=fact.sender, sequence=fact.sequence, body=fact_line(fact)) for fact in facts]
    # Long ago: of the last minute's lines a start reads each by itself.
    await journal.append(drafts, received_unix_ms=SystemClock().unix_ms() - _DAY_MS)
    await journal.close()


def rebuild(path: Path, competition: Competition) -> Rebuilt:
    """Fill books from a journal as a start does."""
    clock = SystemClock()
    books = Books(competition, clock=clock)
    tape = Tape(books, clock=clock)
    restoring = Restoring(books, Senders(), tape)
    gc.collect()
    before, begun, begun_worked = resident_bytes(os.getpid()), time.perf_counter(), time.process_time()
    read = OldLines(until_ms=tape.until_ms)
    with uncollected():
        journal = SqliteJournal.open(path, reader=read)
    restoring.take_read(read)
    wall_s, worked_s = time.perf_counter() - begun, time.process_time() - begun_worked
    gc.collect()
    fact_bytes = (resident_bytes(os.getpid()) - before) / restoring.lines
    asyncio.run(journal.close())
    return Rebuilt(wall_s=wall_s, worked_s=worked_s, fact_bytes=fact_bytes)


def main() -> None:
    """Do it once."""
    found = rebuild(Path(sys.argv[1]), long_competition(lanes=LANES, taps=_TAPS))
    print(json.dumps({"wall_s": found.wall_s, "worked_s": found.worked_s, "fact_bytes": found.fact_bytes}))


if __name__ == "__main__":
    main()
