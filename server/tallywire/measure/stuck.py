"""Some who never read: the others lose nothing, the memory stays flat, and those who are stuck are let go."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tallywire.measure.figures import Figure, FigureTable, Goal
from tallywire.measure.plug import Plug, message
from tallywire.measure.scale import Scale
from tallywire.measure.taps import RATE, Watched, watched
from tallywire.measure.ways import ours

SHARE = 0.02
_VIEWS = ("heat", "gaps", "result", "event", "next", "subjects")
"""So many views fill the buffers between server and client in a quarter of a minute."""
_LET_GO_S = 30
"""So long the server waits for somebody who does not read."""
_FLAT = 1.1


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Tap while two of a hundred never read, for a minute and a half, or for ten minutes when there is time."""
    clients = scale.sized(1000 if scale.long else 200, quick=20)
    seconds = scale.sized(600.0 if scale.long else 90.0, quick=1.0)
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        way = stack.enter_context(ours(Path(folder), taps=round(seconds * RATE) + 200, guests=2 * clients))
        others = stack.enter_context(watched(way, clients))
        stuck = [_never_reads(others) for _ in range(max(1, round(clients * SHARE)))]
        others.round(RATE)
        before, memory = others.crowd.texts, [others.resident_mib]
        taps = _tap(others, seconds, memory)
        lost = taps * clients - (others.crowd.texts - before)
        held = sum(not _is_cut(plug) for plug in stuck)
        yield _table(clients, seconds, len(stuck), (lost, held), memory)
        for plug in stuck:
            plug.socket.close()


def _tap(others: Watched, seconds: float, memory: list[float]) -> int:
    """Tap for so long, note the memory after each second's taps, and give how many taps there were."""
    taps, until = 0, time.perf_counter() + seconds
    while time.perf_counter() < until:
        others.round(RATE)
        taps += len(others.rounds[-1].waits_ms)
        memory.append(others.resident_mib)
    return taps


def _never_reads(others: Watched) -> Plug:
    plug = Plug(others.way.port, others.way.path, buffer=4096)
    plug.shake()
    for view in _VIEWS:
        plug.say(message(type="watch", view=view))
    return plug


def _is_cut(plug: Plug) -> bool:
    """Read what is left, and tell whether the connection has ended."""
    plug.socket.settimeout(0.2)
    try:
        while plug.socket.recv(1 << 16):
            pass
    except TimeoutError:
        return False
    except OSError:
        return True
    return True


def _table(clients: int, seconds: float, stuck: int, counts: tuple[int, int], memory: list[float]) -> FigureTable:
    lost, held = counts
    middle = len(memory) // 2
    grown = Figure.of([memory[-1] / memory[middle]])
    goals = [
        Goal(says="frames that the others lost", found=Figure.of([lost]), bound=0),
        Goal(says="memory at the end over that half-way", found=grown, bound=_FLAT),
    ]
    if seconds > 2 * _LET_GO_S:
        goals.append(Goal(says="stuck and still connected", found=Figure.of([held]), bound=0))
    return FigureTable(
        title=f"{stuck} who never read beside {clients:,} who do, {seconds:g} s, {RATE} taps a second",
        columns=("frames lost by the others", "stuck and still connected", "MiB before", "half-way", "at the end"),
        rows=((lost, held, *(Figure.of([memory[at]]) for at in (0, middle, -1))),),
        goals=tuple(goals),
    )
