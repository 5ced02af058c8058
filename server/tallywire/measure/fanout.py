"""A tap to everybody: what it costs the server and how long the last of them waits, beside other ways of telling them.

All servers run at once, each with its own crowd, and are tapped in turn. Ours does everything that it does for a fact;
the others send a frame as large as ours when a text comes in.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from pathlib import Path

from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.scale import Scale
from tallywire.measure.taps import RATE, Waits, Watched, rounds_in_turn, watched
from tallywire.measure.ways import EIGHT, others, ours, transport

FRAME_BYTES = 200
OURS, ALL_VIEWS, BARE, LIMIT = "ours", "ours, eight views watched", "bare transport", "bare transport after one append"
_GOALS: Mapping[str, float] = {
    BARE: 0.9,
    "starlette, a loop": 2.2,
    "websockets.broadcast": 1.5,
    "a socket.io room": 7,
    "Node's ws": 1,
}
"""How many times our processor time for a frame the other ways should take at least."""


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Tap all ways in turn."""
    clients, taps = scale.sized(1000, quick=20), scale.sized(40, quick=3)
    with tempfile.TemporaryDirectory() as temporary, ExitStack() as stack:
        folder = Path(temporary)
        found: dict[str, Watched] = {}
        for name, way in {
            OURS: ours(folder / "one", taps=taps * 8, guests=clients),
            ALL_VIEWS: ours(folder / "eight", taps=taps * 8, guests=clients, views=EIGHT),
            BARE: transport(FRAME_BYTES),
            LIMIT: transport(FRAME_BYTES, folder / "limit.sqlite"),
            **others(FRAME_BYTES),
        }.items():
            found[name] = stack.enter_context(watched(stack.enter_context(way), clients))
            for each in found.values():
                each.attend()
        costs = rounds_in_turn(found, taps, scale)
        yield _table(found, costs, clients, scale)


def _table(found: Mapping[str, Watched], costs: Mapping[str, Figure], clients: int, scale: Scale) -> FigureTable:
    waits = {name: each.waits(scale.repeats) for name, each in found.items()}
    rows: list[tuple[Cell, ...]] = [
        (name, cost, cost.over(costs[OURS]), waits[name].half, waits[name].most) for name, cost in costs.items()
    ]
    return FigureTable(
        title=f"{clients:,} who watch, {RATE} taps a second",
        columns=("way", "µs of the server a frame", "× ours", "tap to last, half within ms", "99 % within ms"),
        rows=tuple(rows),
        goals=(*_cost_goals(costs), *_wait_goals(waits)),
        notes=(f"{LIMIT}: what no server can be faster than that writes a fact down before it tells of it",),
    )


def _cost_goals(costs: Mapping[str, Figure]) -> Iterator[Goal]:
    for name, bound in _GOALS.items():
        if name in costs:
            ratio = costs[name].over(costs[OURS])
            yield Goal(says=f"{name} over ours, processor time a frame", found=ratio, bound=bound, at_least=True)


def _wait_goals(waits: Mapping[str, Waits]) -> Iterator[Goal]:
    limit, mine, eight = waits[LIMIT], waits[OURS], waits[ALL_VIEWS]
    yield Goal(says="ours over the limit, half within", found=mine.half.over(limit.half), bound=1.1)
    yield Goal(says="ours over the limit, 99 % within", found=mine.most.over(limit.most), bound=1.3)
    yield Goal(says="eight views watched over the limit, half within", found=eight.half.over(limit.half), bound=1.5)
