"""Measures the SQLite journal; run by hand: `PYTHONPATH=server python tests/shell/bench_journal.py [--proof] [FOLDER]`.

Clients append one 172-byte fact each and wait for its line. Compared in the same run, since figures drift with the
machine and only ratios last: a commit a fact, and a group commit of what queued. Then, while the event loop is busy
computing: a group written with a statement a line and with one statement; and the interpreter's usual switch interval
against a short one. First, what chain and seal cost: with them and with neither, run by run in turn.
"""

from __future__ import annotations

import asyncio
import statistics
import sys
import tempfile
from collections.abc import Awaitable, Callable, Sequence
from contextlib import AbstractContextManager, AsyncExitStack, ExitStack, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from unittest.mock import patch

from tallywire.shell.journal import line_file
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.seal import SealFile
from tallywire.shell.journal.sqlite import SqliteJournal

SECONDS = 1.0
RUNS = 7
PROOF_ONLY = "--proof"
BODY = b"x" * 172
Append = Callable[[Draft], Awaitable[None]]


@dataclass(frozen=True, slots=True)
class Figures:
    """Facts a second, and milliseconds from the call to the answer."""

    rate: float
    p50_ms: float
    p99_ms: float


async def client(append: Append, sender: str, until: float, waits_ms: list[float]) -> None:
    """Append one fact after the other until the time is up."""
    sequence = 0
    while (start := perf_counter()) < until:
        sequence += 1
        await append(Draft(sender=sender, sequence=sequence, body=BODY))
        waits_ms.append((perf_counter() - start) * 1000)


async def other_work() -> None:
    """Keep the event loop computing for 2 ms at a time: the worst case for a thread that wants the interpreter."""
    while True:
        until = perf_counter() + 0.002
        while perf_counter() < until:
            pass
        await asyncio.sleep(0)


async def measure(path: Path, *, clients: int, each: bool = False, busy: bool = False) -> Figures:
    """Run the clients on a new journal; `each` lets only one append in at a time, so that each has its own commit."""
    journal, one, waits_ms = SqliteJournal.open(path), asyncio.Lock(), list[float]()

    async def append(draft: Draft) -> None:
        async with AsyncExitStack() as stack:
            if each:
                await stack.enter_async_context(one)
            await journal.append([draft], received_unix_ms=0)

    work = asyncio.create_task(other_work()) if busy else None
    until = perf_counter() + SECONDS
    await asyncio.gather(*(client(append, f"pad-{n}", until, waits_ms) for n in range(clients)))
    if work:
        work.cancel()
        with suppress(asyncio.CancelledError):
            await work
    await journal.close()
    cuts = statistics.quantiles(waits_ms, n=100)
    return Figures(rate=len(waits_ms) / SECONDS, p50_ms=cuts[49], p99_ms=cuts[98])


def median(folder: Path, name: str, *, clients: int, each: bool = False, busy: bool = False) -> Figures:
    """Print and give the median of each figure over several runs."""
    runs = []
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory(dir=folder) as place:
            runs.append(asyncio.run(measure(Path(place) / "bench.journal", clients=clients, each=each, busy=busy)))
    figures = middle(runs)
    say(name, figures)
    return figures


def middle(runs: Sequence[Figures]) -> Figures:
    """Give the median of each figure."""
    return Figures(
        rate=statistics.median(run.rate for run in runs),
        p50_ms=statistics.median(run.p50_ms for run in runs),
        p99_ms=statistics.median(run.p99_ms for run in runs),
    )


def say(name: str, figures: Figures) -> None:
    """Print figures."""
    print(f"{name:<34} {figures.rate:>8,.0f} facts/s   p50 {figures.p50_ms:7.2f} ms   p99 {figures.p99_ms:7.2f} ms")


def compare(what: str, plain: Figures, ours: Figures) -> None:
    """Print how many times better ours is."""
    rate, p50, p99 = ours.rate / plain.rate, plain.p50_ms / ours.p50_ms, plain.p99_ms / ours.p99_ms
    print(f"{what:<34} {rate:8.2f} x rate      p50 {p50:7.2f} x      p99 {p99:7.2f} x\n")


def without_proof() -> AbstractContextManager[object]:
    """Let lines be written with neither chain nor seal, as before they had one."""
    stack = ExitStack()
    stack.enter_context(patch.object(line_file, "chained", lambda _before, _line: b""))
    stack.enter_context(patch.object(SealFile, "write", lambda *_args, **_options: None))
    return stack


def compare_proof(folder: Path, clients: int) -> None:
    """Compare lines with and without chain and seal; the runs take turns, so that both see the same machine."""
    plain, proven = list[Figures](), list[Figures]()
    for _ in range(2 * RUNS):
        for runs, proof in ((plain, without_proof()), (proven, nullcontext())):
            with tempfile.TemporaryDirectory(dir=folder) as place, proof:
                runs.append(asyncio.run(measure(Path(place) / "bench.journal", clients=clients)))
    before, after = (middle(runs) for runs in (plain, proven))
    say(f"{clients} clients, no chain, no seal", before)
    say(f"{clients} clients, chain and seal", after)
    compare("  what chain and seal leave", before, after)


def compare_groups(folder: Path, clients: int) -> None:
    """Compare a commit a fact with the group commit."""
    each = median(folder, f"{clients} clients, a commit each", clients=clients, each=True)
    group = median(folder, f"{clients} clients, group commit", clients=clients)
    compare("  gain of the group", each, group)


def compare_busy(folder: Path) -> None:
    """Compare what helps while the event loop is busy; the middle figure is the same on both sides."""
    usual, whole = sys.getswitchinterval(), line_file.ROWS_A_STATEMENT
    by_default = median(folder, "busy, switch interval 5 ms", clients=50, busy=True)
    sys.setswitchinterval(0.0005)
    ours = median(folder, "busy, switch interval 0.5 ms", clients=50, busy=True)
    compare("  gain of the short interval", by_default, ours)
    line_file.ROWS_A_STATEMENT = 1
    by_line = median(folder, "busy, 0.5 ms, a statement a line", clients=50, busy=True)
    compare("  gain of one statement a group", by_line, ours)
    line_file.ROWS_A_STATEMENT = whole
    sys.setswitchinterval(usual)


def main(folder: Path) -> None:
    """Print every comparison."""
    for clients in (1, 8, 50):
        compare_proof(folder, clients)
    if PROOF_ONLY in sys.argv:
        return
    median(folder, "1 client", clients=1)
    compare_groups(folder, 8)
    compare_groups(folder, 50)
    compare_busy(folder)


if __name__ == "__main__":
    places = [each for each in sys.argv[1:] if each != PROOF_ONLY]
    main(Path(places[0]) if places else Path(tempfile.gettempdir()))
