"""From the command to the moment when a server serves, and the memory it has then."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tallywire.measure.figures import Figure, FigureTable, Goal
from tallywire.measure.machine import resident_bytes, worked_ms
from tallywire.measure.scale import Scale
from tallywire.measure.served import served_heat
from tallywire.measure.turns import in_turn


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Start a server on a new folder again and again."""
    starts: list[tuple[float, float]] = []

    def begin() -> float:
        with tempfile.TemporaryDirectory() as folder:
            begun = time.perf_counter()
            with served_heat(Path(folder), lanes=10, taps=1000) as server:
                took_s = time.perf_counter() - begun
                starts.append((worked_ms(server.pid) / 1000, resident_bytes(server.pid) / 2**20))
        return took_s

    wall = in_turn({"wall": begin}, scale)["wall"]
    worked, memory = (Figure.of(values[-scale.repeats :]) for values in zip(*starts, strict=True))
    yield FigureTable(
        title="A server on an empty folder, until it has printed its links",
        columns=("seconds", "of the processor", "MiB then"),
        rows=((wall, worked, memory),),
        goals=(Goal(says="start to serving", found=wall, bound=0.6, unit="s"),),
    )
