"""How long an edge takes to join a competition that has run for long. Run by hand: not a test.

    PYTHONPATH=server:tests python tests/e2e/bench_join.py [FACTS]

The parts are timed in this process, then edges are started as processes; a bare interpreter that imports what an edge
imports stands beside it, because on a busy machine that is most of it.
"""

from __future__ import annotations

import asyncio
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import orjson

from e2e.processes import PRACTICE, tallywire
from shell.redis_servers import RedisServer, redis_server
from shell.stage import live_on
from tallywire.shell.clock import FakeClock
from tallywire.shell.edges import keep_for_edges
from tallywire.shell.files import competition_of, load_bundle
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.on_redis.client import Place, RedisClient
from tallywire.shell.journal.on_redis.follower import Follower
from tallywire.shell.journal.on_redis.lines import open_redis_lines
from tallywire.shell.journal.opening import RedisOptions
from tallywire.shell.journal.port import Draft
from tallywire.shell.storage import Storage

FACTS = 200_000
RUNS = 5
HEATS, LANES = 50, 8
APART_MS = 40
_BATCH = 200


def many_heats(folder: Path) -> Path:
    """Write a competition of ten events with five heats of eight lanes each."""
    entries = [f"e{n}" for n in range(5 * LANES)]
    text = [PRACTICE.partition("[[entry]]")[0].replace("[100, 90, 80, 70]", str(list(range(200, 0, -5))))]
    text += [f'[[entry]]\nid = "{each}"\nname = "Entry {each}"\ndivision = "open"\n' for each in entries]
    work = PRACTICE[PRACTICE.index("[event.workout]") : PRACTICE.index("[[heat]]")]
    for event in range(10):
        text.append(f'[[event]]\nid = "v{event}"\nname = "Event {event}"\npoints = "table"\n{work}')
    for heat in range(HEATS):
        lanes = ", ".join(f'{n + 1} = "{entries[heat % 5 * LANES + n]}"' for n in range(LANES))
        name = f'[[heat]]\nid = "h{heat}"\nname = "Heat {heat}"\nevent = "v{heat // 5}"\n'
        text.append(f"{name}lanes = {{ {lanes} }}\n")
    path = folder / "many.toml"
    path.write_text("\n".join(text), encoding="utf-8")
    return path


def drafts(count: int, began_ms: int) -> Iterator[Draft]:
    """Give the facts of one heat after the other: its start, then pads that count reps, some no-reps between."""
    sequences: Counter[str] = Counter()
    each = max(1, count // HEATS)
    for number in range(count):
        heat, n = min(number // each, HEATS - 1), number % each
        lane = n % LANES + 1
        sender = "table-abc" if n == 0 else f"lane-{lane}-abc"
        sequences[sender] += 1
        who = {"id": f"{sender}.{sequences[sender]}", "heat": f"h{heat}", "at_ms": n * APART_MS}
        who |= {"sender": sender, "sequence": sequences[sender]}
        kind = "no_rep_called" if n % 61 == 0 else "rep_counted"
        own = (
            {"fact": "heat_started", "unix_ms": began_ms + number * APART_MS}
            if n == 0
            else {"fact": kind, "lane": lane}
        )
        yield Draft(sender=sender, sequence=sequences[sender], body=orjson.dumps(who | own))


def fill(redis: RedisServer, count: int) -> None:
    """Write so many facts as a writer does."""
    began_ms = time.time_ns() // 1_000_000 - count * APART_MS
    everything = list(drafts(count, began_ms))
    place = Place(url=redis.url, timeout_s=30.0)
    with open_redis_lines(place, follower=Follower(), owner="bench") as lines:
        lines.set_note("mode", "live")
        lines.set_note("competition", "Practice Trials")
        for at in range(0, count, _BATCH):
            lines.write([(everything[at : at + _BATCH], began_ms + at * APART_MS)])


def timed(what: str, act: Callable[[], object]) -> None:
    """Say how long something takes, and how much processor time of its own: the medians of a few times."""
    walls, works = list[float](), list[float]()
    for _ in range(RUNS):
        wall, work = time.perf_counter(), worked()
        act()
        walls.append(time.perf_counter() - wall)
        works.append(worked() - work)
    wall, work = statistics.median(walls), statistics.median(works)
    print(
        f"  {what:58} {wall:6.2f} s, of the processor {work:.2f} s (best {min(walls):.2f}, {min(works):.2f})",
        flush=True,
    )


def worked() -> float:
    """Give the processor time of this process and of those it has waited for."""
    return sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def started(*command: str) -> None:
    """Run a program until it says a line."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline()
        process.terminate()


def bench(folder: Path, redis: RedisServer, count: int) -> None:
    """Time the parts and the whole."""
    bundle = load_bundle(many_heats(folder))
    fill(redis, count)
    storage = Storage()
    # That of `fill`, which was the first writer.
    storage.lead(1)
    keep_for_edges(RedisOptions(url=redis.url), bundle, "http://127.0.0.1:1", storage=storage)
    print(f"{count} facts")
    place = Place(url=redis.url, timeout_s=30.0)

    def read() -> list[object]:
        client, follower, found = RedisClient(place), Follower(), list[object]()
        while lines := follower.take(client):
            found += lines
        client.close()
        return found

    lines = read()
    timed("read the stream and check every line", read)

    async def fold() -> None:
        live = live_on(
            MemoryJournal(),
            clock=FakeClock(unix_ms=time.time_ns() // 1_000_000),
            work=competition_of(bundle, name="bench"),
        )
        live.restore(lines)  # type: ignore[arg-type]
        live.books.snapshot().heats["h1"].state  # noqa: B018
        live.close()

    timed("make the facts, fold them, and look at the heat", lambda: asyncio.run(fold()))
    code = "import tallywire.cli.main, tallywire.web.serving, redis, websockets.asyncio.client; print(1, flush=True)"
    timed("a bare interpreter with an edge's imports, as a process", lambda: started(sys.executable, "-c", code))
    edge = tallywire("edge", "--redis", redis.url, "--port", "0")
    timed("an edge from its start until it listens", lambda: started(*edge))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as temporary, redis_server(Path(temporary) / "redis") as server:
        bench(Path(temporary), server, int(sys.argv[1]) if len(sys.argv) > 1 else FACTS)
