"""How the cost of a tap grows with those who watch, and how many of them one machine holds."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tallywire.measure.fanout import FRAME_BYTES
from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.scale import Scale
from tallywire.measure.taps import RATE, Waits, rounds_in_turn, watched
from tallywire.measure.ways import ours, transport

SIZES = (10, 100, 1000, 2000, 3500, 5000)
HELD_MS = 100
"""A machine holds as many as have their frame within this, the last of them, after 99 of 100 taps."""
_GOALS = {100: 0.5, 1000: 0.9, 2000: 0.9}
"""The bare transport's processor time for a frame over ours, at least, by the number of clients."""


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Let more and more clients come to both servers, and tap both in turn."""
    sizes, taps = scale.sized(SIZES, quick=(5, 10)), scale.sized(30, quick=3)
    rows, goals, held = list[tuple[Cell, ...]](), list[Goal](), 0
    with tempfile.TemporaryDirectory() as temporary, ExitStack() as stack:
        server = ours(Path(temporary), taps=taps * 8 * len(sizes), guests=sizes[-1])
        mine = stack.enter_context(watched(stack.enter_context(server), 0))
        bare = stack.enter_context(watched(stack.enter_context(transport(FRAME_BYTES)), 0))
        for clients in sizes:
            mine.grow(clients)
            bare.grow(clients)
            costs = rounds_in_turn({"mine": mine, "bare": bare}, taps, scale)
            ratio = costs["bare"].over(costs["mine"])
            waits, least = mine.waits(scale.repeats), bare.waits(scale.repeats)
            memory = Figure.of([mine.resident_mib])
            rows.append((clients, costs["mine"], ratio, waits.half, waits.most, least.half, memory))
            goals += _goals(clients, ratio)
            held = clients if held_by(waits) else held
    yield FigureTable(
        title=f"More and more who watch, {RATE} taps a second",
        columns=(
            "clients",
            "µs of the server a frame",
            "bare transport over ours",
            "tap to last, half within ms",
            "99 % within ms",
            "bare transport, half within ms",
            "MiB",
        ),
        rows=tuple(rows),
        goals=tuple(goals),
        notes=(_holds(held),),
    )


def held_by(waits: Waits) -> bool:
    """Tell whether the machine holds those who waited so long."""
    return waits.most.middle <= HELD_MS


def _holds(clients: int) -> str:
    few = f"of these sizes it holds {clients:,}" if clients else "it holds none of these sizes"
    return f"with 99 of 100 taps at the last client within {HELD_MS} ms, {few}"


def _goals(clients: int, ratio: Figure) -> Iterator[Goal]:
    if clients in _GOALS:
        says = f"bare transport over ours, {clients:,} clients"
        yield Goal(says=says, found=ratio, bound=_GOALS[clients], at_least=True)
