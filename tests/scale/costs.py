"""What one fact, frame, list and connection cost on this machine, by the processor time of real processes."""

from __future__ import annotations

import asyncio
import os
import socket
import statistics
import tempfile
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from http.client import HTTPConnection
from pathlib import Path

from core.samples import Pad
from e2e.bench_arena import watched
from e2e.blast import LANES, competition
from e2e.edges import edge
from e2e.one_address import NAME, OPTIONS, OneAddress, nginx
from e2e.processes import Served, served
from e2e.sender import Sender
from e2e.viewers import Audience
from shell.redis_servers import free_port, redis_server
from shell.test_public_feed import Server
from tallywire.shell.journal.on_redis.client import Place
from tallywire.shell.journal.on_redis.follower import Follower
from tallywire.shell.journal.on_redis.lines import open_redis_lines
from tallywire.shell.journal.port import Draft

KEPT = Path(__file__).with_name("costs.toml")
TAPS, RATE = 600, 100.0
WATCHERS, VIEWERS = 300, 400
_TICKS = os.sysconf("SC_CLK_TCK")
_PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Seconds are of one core; bytes are with heads, compressed. `load` is the machine's while it was measured."""

    load: float
    writer_fact_s: float
    redis_fact_s: float
    redis_group_s: float
    edge_fact_s: float
    edge_frame_s: float
    edge_watcher_kib: float
    list_made_s: float
    list_given_s: float
    cache_request_s: float
    cache_handshake_s: float
    list_bytes: float
    segment_bytes: float

    @classmethod
    def kept(cls) -> Costs:
        """Give what was measured last."""
        return cls(**tomllib.loads(KEPT.read_text(encoding="utf-8")))

    def keep(self) -> None:
        """Write them down, rounded to three digits."""
        lines = [f"{name} = {float(f'{value:.3g}')!r}" for name, value in asdict(self).items()]
        head = "# Written by `python -m scale.simulate --measure` (with PYTHONPATH=server:tests); see costs.py."
        KEPT.write_text("\n".join([head, *lines, ""]), encoding="utf-8")


def worked_s(pid: int) -> float:
    """Give the processor time of a process (proc(5): fields 14 and 15 of its stat)."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


def resident_kib(pid: int) -> float:
    """Give the memory of a process."""
    return int(Path(f"/proc/{pid}/statm").read_text(encoding="utf-8").split()[1]) * _PAGE / 1024


@contextmanager
def working(*pids: int) -> Iterator[list[float]]:
    """Give how much processor time each process takes meanwhile."""
    before, took = [worked_s(pid) for pid in pids], list[float]()
    yield took
    took += [worked_s(pid) - had for pid, had in zip(pids, before, strict=True)]


def measured() -> Costs:
    """Measure everything, in about a minute."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        return Costs(load=os.getloadavg()[0], **_of_facts(folder), **_of_lists(folder), list_made_s=_list_made_s())


def _of_facts(folder: Path) -> dict[str, float]:
    arguments = ("serve", str(competition(folder)), "--port", "0", "--data", str(folder / "data"))
    with redis_server(folder / "redis") as redis, served(*arguments, "--redis", redis.url) as writer:
        group_s = _group_s(redis.url.removesuffix("0") + "1")
        with edge(redis.port, "--address-limit", "1000") as bare:
            pads = _pads(writer)
            assert redis._process is not None
            with working(writer.process.pid, redis._process.pid, bare.process.pid) as alone:
                _tap(pads)
            before_kib = resident_kib(bare.process.pid)
            with watched({bare.port: WATCHERS}) as watchers:
                watcher_kib = (resident_kib(bare.process.pid) - before_kib) / WATCHERS
                heard = sum(each.texts for each in watchers)
                with working(bare.process.pid) as with_them:
                    _tap(pads)
                frames = sum(each.texts for each in watchers) - heard
    return {
        "writer_fact_s": alone[0] / TAPS,
        "redis_fact_s": alone[1] / TAPS,
        "redis_group_s": group_s,
        "edge_fact_s": alone[2] / TAPS,
        "edge_frame_s": max(0.0, with_them[0] - alone[2]) / frames,
        "edge_watcher_kib": watcher_kib,
    }


def _pads(server: Served) -> list[Sender]:
    table = Sender(server.port, "table-a", server.key("scoring table"))
    table.start_heat()
    table.close()
    return [Sender(server.port, f"lane-{n}-a", server.key(f"lane pad {n}"), lane=n) for n in LANES]


def _tap(pads: list[Sender]) -> None:
    """Tap on every lane in turn, so many a second."""
    began = time.monotonic()
    for turn in range(TAPS):
        time.sleep(max(0.0, began + turn / RATE - time.monotonic()))
        lane = turn % len(pads)
        pads[lane].say("rep_counted", lane=lane + 1, at_ms=round(1000 * (time.monotonic() - began)))


def _group_s(url: str) -> float:
    """Give the median of one line appended, synced and answered."""
    with open_redis_lines(Place(url=url), follower=Follower(), owner="bench") as lines:
        took = list[float]()
        for sequence in range(1, 301):
            draft = Draft(sender="a", sequence=sequence, body=b"{}" * 60)
            began = time.perf_counter()
            lines.write([([draft], 0)])
            took.append(time.perf_counter() - began)
    return statistics.median(took)


def _of_lists(folder: Path) -> dict[str, float]:
    arguments = ("serve", str(folder / "eight.toml"), "--port", "0", "--data", str(folder / "public"), *OPTIONS)
    with served(*arguments, "--print-links") as server:
        ports = {shown: free_port() for shown in ("8401", "8402", "8443")}
        with nginx(folder, ports | {"8403": server.port, "8404": server.port}) as one:
            pads = _pads(server)
            with working(server.process.pid) as given:
                _ask(server, 1000)
            with working(one.pid) as cached:
                audience = Audience(NAME, one.port, one.context, viewers=VIEWERS)
                asking = asyncio.run(_with_taps(audience, pads))
            with working(one.pid) as shaken:
                _shake(one, 200)
    requests = audience.seen.lists + audience.seen.segments
    list_bytes, segment_bytes = (statistics.mean(sizes) for sizes in asking)
    return {
        "list_given_s": given[0] / 1000,
        "cache_request_s": cached[0] / requests,
        "cache_handshake_s": shaken[0] / 200,
        "list_bytes": list_bytes,
        "segment_bytes": segment_bytes,
    }


async def _with_taps(audience: Audience, pads: list[Sender]) -> tuple[list[int], list[int]]:
    tapping = asyncio.create_task(asyncio.to_thread(_tap_slowly, pads))
    await audience.watch(10.0)
    await tapping
    return audience.sizes["list"], audience.sizes["segment"]


def _tap_slowly(pads: list[Sender]) -> None:
    """Tap a rep a second on every lane."""
    for turn in range(80):
        lane = turn % len(pads)
        pads[lane].say("rep_counted", lane=lane + 1, at_ms=100 * turn)
        time.sleep(0.1)


def _ask(server: Served, times: int) -> None:
    """Ask for the list again and again over one connection."""
    connection = HTTPConnection("127.0.0.1", server.port)
    for _ in range(times):
        connection.request("GET", "/public/newest", headers={"Accept-Encoding": "gzip"})
        connection.getresponse().read()
    connection.close()


def _shake(one: OneAddress, times: int) -> None:
    """Connect anew each time, with a whole TLS handshake (RFC 8446)."""
    for _ in range(times):
        with (
            socket.create_connection(("127.0.0.1", one.port)) as bare,
            one.context.wrap_socket(bare, server_hostname=NAME),
        ):
            pass


def _list_made_s() -> float:
    """Give the processor time of a new list, with a rep in each."""
    server, pad, took = Server(), Pad("lane-1-a", 1), list[float]()
    server.take(Pad("table-a").start())
    for number in range(40):
        server.clock.jump(0.5)
        server.take(pad.reps(500 * number))
        began = time.process_time()
        server.feed.newest()
        took.append(time.process_time() - began)
    return statistics.median(took)
