"""How long a fact waits for its answer while everything is watched that there is."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from functools import partial
from math import ceil
from pathlib import Path
from statistics import median

from tallywire.core.errors import TallywireError
from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.scale import Scale
from tallywire.measure.turns import in_turn
from tallywire.measure.ways import EIGHT, FloorPads, our_floor

_WATCHED = (*EIGHT, "call", "standings")
_BOUNDS_MS = {100: 10.0, 1000: 25.0}
"""99 of 100 answers come within this, at so many facts a second."""

_PATIENCE_S = 60.0


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Send facts at two rates, whatever is answered, and time each answer."""
    rates, seconds = scale.sized((100, 1000), quick=(50,)), scale.sized(5.0, quick=0.5)
    taps = round(sum(rates) * seconds * (scale.repeats + 1)) + 100
    waits: dict[int, list[list[float]]] = {rate: [] for rate in rates}
    with tempfile.TemporaryDirectory() as folder, our_floor(Path(folder), taps=taps, views=_WATCHED) as pads:

        def act(rate: int) -> float:
            waits[rate].append(answered(pads, rate, seconds))
            return median(waits[rate][-1])

        half = in_turn({str(rate): partial(act, rate) for rate in rates}, scale)
    most = {rate: Figure.of(_most(each) for each in waits[rate][-scale.repeats :]) for rate in rates}
    rows: list[tuple[Cell, ...]] = [(rate, half[str(rate)], most[rate]) for rate in rates]
    yield FigureTable(
        title=f"From a fact's writing to its answer, {', '.join(_WATCHED)} watched, each by somebody else",
        columns=("facts a second", "half within ms", "99 % within ms"),
        rows=tuple(rows),
        goals=tuple(
            Goal(says=f"99 % of answers at {rate} facts a second", found=most[rate], bound=bound, unit="ms")
            for rate, bound in _BOUNDS_MS.items()
            if rate in most
        ),
    )


def answered(pads: FloorPads, rate: int, seconds: float) -> list[float]:
    """Tap at a rate for so long, and give the milliseconds until each answer."""
    pads.waits_ms.clear()
    due = time.perf_counter()
    taps = round(rate * seconds)
    for _ in range(taps):
        pads.attend_until(due)
        pads.tap()
        due += 1 / rate
    patience = time.perf_counter() + _PATIENCE_S
    while len(pads.waits_ms) < taps:
        pads.attend_until(time.perf_counter() + 0.02)
        if time.perf_counter() > patience:
            raise TallywireError(f"found {len(pads.waits_ms)} answers to {taps} facts after {_PATIENCE_S:g} s")
    return list(pads.waits_ms)


def _most(waits_ms: list[float]) -> float:
    return sorted(waits_ms)[ceil(0.99 * len(waits_ms)) - 1]
