"""How long a start takes to have the books again from a journal, and how much memory a fact takes.

    PYTHONPATH=server:tests python tests/shell/bench_rebuild.py          # 122,000 facts; --runs N, default 3

The journal is that of `tests/core/bench_recompute.py` with every repetition a tap of its own: an SQLite file as the
server writes it. Each run is a process of its own: it imports the server, then opens the journal, which checks every
line against the chain and the seal and makes facts of them, and hands these to the books, the senders and the public's
tape as a start does. Seconds are of the processor. Memory is how much more of it is resident afterwards than before,
by fact.
"""

from __future__ import annotations

import argparse
import gc
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from core.bench_recompute import performances, trials, write_journal
from shell.stage import live_on
from tallywire.shell.clock import FakeClock
from tallywire.shell.collection import uncollected
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.restoring import OldLines

LATER_MS = 2_000_000_000_000
"""Long after the last line, so that none of them is recent."""


def resident_bytes() -> int:
    """Give how much memory of this process is resident (proc(5), statm: the second number counts pages)."""
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * 4096


def rebuild(path: Path) -> dict[str, float]:
    """Have the books again from this journal, in this process."""
    work, clock = trials(), FakeClock(unix_ms=LATER_MS)
    live_on(MemoryJournal(), clock=clock, work=work)  # what a server holds without any fact is not a fact's
    gc.collect()
    before, began = resident_bytes(), time.process_time()
    read = OldLines(until_ms=LATER_MS)
    with uncollected():
        journal = SqliteJournal.open(path, take=read.take)
    opened = time.process_time()
    live = live_on(journal, clock=clock, work=work, read=read)
    done = time.process_time()
    gc.collect()
    return {
        "facts": live.lines,
        "open_s": opened - began,
        "take_s": done - opened,
        "bytes_a_fact": (resident_bytes() - before) / live.lines,
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Rebuild the books from a journal.")
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--journal", type=Path, help="do one run on this journal, and print it as JSON")
    arguments = parser.parse_args()
    if arguments.journal is not None:
        print(json.dumps(rebuild(arguments.journal)))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.sqlite"
        write_journal(path, list(performances(trials(), every_rep=True)))
        command = [sys.executable, __file__, "--journal", str(path)]
        runs = [json.loads(subprocess.check_output(command)) for _ in range(arguments.runs)]
    middle = {name: median(run[name] for run in runs) for name in runs[0]}
    each_us = (middle["open_s"] + middle["take_s"]) / middle["facts"] * 1e6
    print(
        f"{middle['facts']:.0f} facts: open and check {middle['open_s']:.2f} s, "
        f"into the books {middle['take_s']:.2f} s ({each_us:.1f} us a fact), {middle['bytes_a_fact']:.0f} bytes a fact"
    )


if __name__ == "__main__":
    main()
