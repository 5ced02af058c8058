"""How long a tap waits for its answer while everything is watched: calls made in a thread against a process of its own.

    PYTHONPATH=server:tests python -m e2e.bench_acks                # three turns at 100 and 1,000 facts a second
    PYTHONPATH=server:tests python -m e2e.bench_acks --turns 1 --seconds 5 --rates 100

A server process with its journal on disk: three divisions of forty, seven events of heats of twenty that are over, each
repetition a tap, 100,000 facts in all, and one more event whose heat runs. Twenty pads of that heat, under names that
no fact of the journal has, send facts at a fixed rate, whatever is answered; one client watches eight views of it,
another the call and the standings. A fact's time goes from its writing to its answer. Thread and process take turns,
each with a server of its own on a copy of the same journal. Beside them the server's and the helper processor time, and
how old the call was at worst.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import random
import shutil
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path
from statistics import median

from websockets.asyncio.client import ClientConnection, connect

from core import bench_recompute
from core.bench_recompute import performances, trials, write_journal
from tallywire.core.facts import Fact, HeatStarted, RepCounted
from tallywire.core.model.competition import Competition, Event, Heat
from tallywire.core.model.workout import Station, Workout
from tallywire.shell.data_folder import JOURNAL
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from wire.talk import facts as facts_message
from wire.talk import text

LANES = 20
HEAT = "measured"
EIGHT = ("heat", "gaps", "result", "event", "next", "subjects", "table", "show")
WORKED_OUT = ("call", "standings")
WARM_S = 8.0
"""So long taps come before they count: until the first call of so many facts is made."""
CAP_MS = 40 * 60_000
BEGUN_MS = 6 * 60_000
"""The heat has run for so long when the server starts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acks:
    """What one run found. Times are in ms, processor times a second; `call_s` is the oldest age of the call watched."""

    where: str
    rate: int
    count: int
    half_ms: float
    most_ms: float
    server_ms: float
    helper_ms: float
    calls_a_s: float
    call_s: float


def competition() -> Competition:
    """Give the competition, with a heat of twenty that has as much work as it has time."""
    bench_recompute.LANES = LANES
    past = trials()
    work = Workout(
        format="amrap",
        rounds=((Station(movement="box step-over", amount=20), Station(movement="rope climb", amount=5)),),
        time_cap_ms=CAP_MS,
    )
    lanes = {lane: f"d1-{lane}" for lane in range(1, LANES + 1)}
    heat = Heat(id=HEAT, name="Heat 1", event="live", lanes=lanes)
    rest = Heat(id="next", name="Heat 2", event="live", lanes={lane: f"d1-{LANES + lane}" for lane in lanes})
    return replace(
        past,
        events={**past.events, "live": Event(id="live", name="Live", workout=work, points="t")},
        heats={**past.heats, HEAT: heat, "next": rest},
    )


def prefilled(folder: Path, facts: Sequence[Fact]) -> None:
    """Write the journal of a data folder."""
    folder.mkdir(parents=True)
    write_journal(folder / JOURNAL, list(facts))


def _started_ago() -> Fact:
    zero_ms = round(time.time() * 1000) - BEGUN_MS
    return HeatStarted(id="start", heat=HEAT, at_ms=0, sender="table-start", sequence=1, unix_ms=zero_ms)


def _yesterday(fact: Fact) -> Fact:
    """Let what is over be over by the clock on the wall too."""
    day_ms = 24 * 60 * 60_000
    return replace(fact, unix_ms=round(time.time() * 1000) - day_ms) if isinstance(fact, HeatStarted) else fact


def begun() -> Iterator[Fact]:
    """Give what the live heat's lanes have done when the server starts: a repetition every three seconds."""
    for lane in range(1, LANES + 1):
        for number in range(1, BEGUN_MS // 3000):
            sender = f"lane-{lane}-before"
            at_ms = number * (2900 + 10 * lane)
            if at_ms < BEGUN_MS:
                yield RepCounted(
                    id=f"{sender}.{number}", heat=HEAT, at_ms=at_ms, sender=sender, sequence=number, lane=lane
                )


async def _serve(folder: Path, where: str) -> None:
    """Be the server, until standard input ends."""
    settings = Settings(data=folder, port=0, helper="process" if where == "process" else "thread")
    async with running(competition(), settings, signals=True) as server:
        asyncio.get_running_loop().add_reader(0, server.stop)
        print(json.dumps(_said(server)), flush=True)
        reporting = asyncio.create_task(_report(server, folder / "said.json"))
        await server.finished()
        reporting.cancel()


def _said(server: Running) -> dict[str, object]:
    keys = server.live.keys
    pads = {str(lane): keys.lane(lane) for lane in range(1, LANES + 1)}
    return {"address": server.address, "table": keys.table, "pads": pads}


async def _report(server: Running, file: Path) -> None:
    """Write four times a second how old the call is, how many were made, and which process makes them."""
    oldest_s = 0.0
    while True:
        await asyncio.sleep(0.25)
        if (file.parent / "count-from-now").exists():
            oldest_s = max(oldest_s, server.live.behind_s["call"])
        made = server.live.meters.background["call"].count
        pid = server.live.helper.condition().pid
        file.write_text(json.dumps({"oldest_s": oldest_s, "made": made, "pid": pid}))  # noqa: ASYNC240


@asynccontextmanager
async def _served(folder: Path, where: str) -> AsyncIterator[tuple[int, dict[str, object]]]:
    program = [sys.executable, "-m", "e2e.bench_acks", "--serve", str(folder), where]
    process = await asyncio.create_subprocess_exec(
        *program, stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE
    )
    assert process.stdin is not None
    assert process.stdout is not None
    said = json.loads(await process.stdout.readline())
    yield process.pid, said
    process.stdin.close()
    await process.wait()


def _worked_ms(pid: int | None) -> float:
    """Processor time of all threads of a process so far (proc(5), schedstat); 0 where there is none."""
    worked = 0
    with suppress(FileNotFoundError):
        for task in Path(f"/proc/{pid}/task").iterdir():
            worked += int((task / "schedstat").read_text().split()[0])
    return worked / 1e6


class _Pad:
    """A lane's pad: it sends without waiting, and notes how long each answer took."""

    def __init__(self, wire: ClientConnection, lane: int) -> None:
        self.wire = wire
        self._lane = lane
        self._sender = f"lane-{lane}-taps"
        self._number = 0
        self._sent: dict[int, float] = {}
        self.took: list[tuple[float, float]] = []

    async def tap(self, zero_ms: int) -> None:
        """Count one repetition now."""
        self._number += 1
        at_ms = round(time.time() * 1000) - zero_ms
        fact = RepCounted(
            id=f"{self._sender}.{self._number}",
            heat=HEAT,
            at_ms=at_ms,
            sender=self._sender,
            sequence=self._number,
            lane=self._lane,
        )
        message = facts_message(fact)
        self._sent[self._number] = time.perf_counter()
        await self.wire.send(message)

    async def listen(self) -> None:
        """Hear answers; each one is for all facts up to a number."""
        async for message in self.wire:
            said, now = json.loads(message), time.perf_counter()
            if said["type"] == "acknowledged":
                assert not said["refused"], said
                for number in [each for each in self._sent if each <= said["watermark"]]:
                    sent = self._sent.pop(number)
                    self.took.append((sent, now - sent))


class _Watcher:
    """Reads what it is sent, and counts the patches."""

    def __init__(self, wire: ClientConnection) -> None:
        self.wire = wire
        self.patches = 0

    async def read(self) -> None:
        """Read on. Raises AssertionError at a refusal."""
        async for message in self.wire:
            said = json.loads(message)
            assert said["type"] != "error", message
            self.patches += said["type"] == "patch"


async def _opened(stack: AsyncExitStack, said: dict[str, object], **hello: object) -> ClientConnection:
    address = str(said["address"]).replace("http", "ws", 1)
    wire = await stack.enter_async_context(connect(f"{address}/wire", max_queue=None, compression=None))
    await wire.send(text(type="hello", **hello))
    assert json.loads(await wire.recv())["type"] == "welcome"
    return wire


async def _play(pads: Sequence[_Pad], rate: int, seconds: float, zero_ms: int) -> None:
    """Tap at a rate, on lanes in no order, whatever is answered."""
    dice, begin = random.Random(7), time.perf_counter()
    for number in range(round(rate * seconds)):
        left_s = begin + number / rate - time.perf_counter()
        if left_s > 0:
            await asyncio.sleep(left_s)
        await dice.choice(pads).tap(zero_ms)


async def acks(folder: Path, where: str, rate: int, *, seconds: float, start: Fact) -> Acks:
    """Measure one server on a data folder that has a journal."""
    zero_ms = start.unix_ms if isinstance(start, HeatStarted) else 0
    async with _served(folder, where) as (pid, said), AsyncExitStack() as stack:
        keys = said["pads"]
        assert isinstance(keys, dict)
        pads = [
            _Pad(
                await _opened(stack, said, role="lane", lane=lane, key=keys[str(lane)], sender=f"lane-{lane}-taps"),
                lane,
            )
            for lane in range(1, LANES + 1)
        ]
        watchers = [
            _Watcher(await _opened(stack, said, role="table", key=said["table"], sender=f"table-{n}")) for n in (1, 2)
        ]
        tasks = [asyncio.create_task(each.read()) for each in watchers]
        tasks += [asyncio.create_task(each.listen()) for each in pads]
        for watcher, views in zip(watchers, (EIGHT, WORKED_OUT), strict=True):
            for view in views:
                await watcher.wire.send(text(type="watch", view=view, heat=HEAT))
        await _play(pads, min(rate, 100), WARM_S, zero_ms)
        (folder / "count-from-now").touch()
        report = json.loads((folder / "said.json").read_text())
        before, since = (_worked_ms(pid), _worked_ms(report["pid"])), time.perf_counter()
        patches = [each.patches for each in watchers]
        await _play(pads, rate, seconds, zero_ms)
        lasted_s = time.perf_counter() - since
        await asyncio.sleep(1.0)
        after = json.loads((folder / "said.json").read_text())
        worked = (_worked_ms(pid) - before[0], _worked_ms(after["pid"]) - before[1])
        shown = [each.patches - already for each, already in zip(watchers, patches, strict=True)]
        assert min(shown) > seconds, f"found {shown} patches: taps that change nothing measure nothing"
        for task in tasks:
            assert not task.done(), task.exception()
            task.cancel()
        took = sorted(1000 * each for pad in pads for sent, each in pad.took if sent >= since)
    return Acks(
        where=where,
        rate=rate,
        count=len(took),
        half_ms=took[ceil(0.5 * len(took)) - 1],
        most_ms=took[ceil(0.99 * len(took)) - 1],
        server_ms=worked[0] / lasted_s,
        helper_ms=worked[1] / lasted_s,
        calls_a_s=(after["made"] - report["made"]) / (lasted_s + 1),
        call_s=after["oldest_s"],
    )


def measured(*, turns: int, seconds: float, rates: Sequence[int]) -> Iterator[Acks]:
    """Measure thread and process in turns, at each rate."""
    before = [_yesterday(fact) for fact in performances(competition_before(), every_rep=True)]
    with tempfile.TemporaryDirectory() as place:
        for turn in range(turns):
            for rate in rates:
                for where in ("thread", "process") if turn % 2 == 0 else ("process", "thread"):
                    folder, start = Path(place) / f"{turn}-{rate}-{where}", _started_ago()
                    prefilled(folder, [*before, start, *begun()])
                    yield asyncio.run(acks(folder, where, rate, seconds=seconds, start=start))
                    shutil.rmtree(folder)


def competition_before() -> Competition:
    """Give the events that are over."""
    bench_recompute.LANES = LANES
    return trials()


def main() -> None:
    """Print every turn, and the medians."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--turns", type=int, default=3)
    asked.add_argument("--seconds", type=float, default=10.0)
    asked.add_argument("--rates", type=int, nargs="+", default=[100, 1000])
    asked.add_argument("--serve", nargs=2)
    given = asked.parse_args()
    if given.serve:
        asyncio.run(_serve(Path(given.serve[0]), given.serve[1]))
        return
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores; ms")
    print("where     a second   facts    p50     p99   server/s  helper/s  calls/s  oldest call, s")
    found = []
    for each in measured(turns=given.turns, seconds=given.seconds, rates=given.rates):
        found.append(each)
        print(
            f"{each.where:8}  {each.rate:8}  {each.count:6}  {each.half_ms:5.1f}  {each.most_ms:6.1f}  "
            f"{each.server_ms:9.0f}  {each.helper_ms:11.0f}  {each.calls_a_s:7.1f}  {each.call_s:15.1f}",
            flush=True,
        )
    for rate in given.rates:
        for where in ("thread", "process"):
            p99 = [each.most_ms for each in found if (each.where, each.rate) == (where, rate)]
            print(f"{where} at {rate} a second: p99 {median(p99):.1f} ms ({min(p99):.1f} to {max(p99):.1f})")


if __name__ == "__main__":
    main()
