"""How long a fact waits for its answer while everything is watched that there is."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
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

_WARM_RATE = 100
_PATIENCE_S = 60.0


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Send facts, whatever is answered, and time each answer: at two rates, and while one heat gets longer."""
    yield _by_rates(scale)
    yield _by_length(scale)


def _by_rates(scale: Scale) -> FigureTable:
    rates, seconds = scale.sized(tuple(_BOUNDS_MS), quick=(50,)), scale.sized(5.0, quick=0.5)
    waits: dict[int, list[list[float]]] = {rate: [] for rate in rates}

    def act(rate: int) -> float:
        with _floor(scale, taps=round(rate * seconds)) as pads:
            waits[rate].append(answered(pads, rate, seconds))
        return median(waits[rate][-1])

    half = in_turn({str(rate): partial(act, rate) for rate in rates}, scale)
    most = {rate: Figure.of(_most(each) for each in waits[rate][-scale.repeats :]) for rate in rates}
    rows: list[tuple[Cell, ...]] = [(rate, half[str(rate)], most[rate]) for rate in rates]
    return FigureTable(
        title=f"From a fact's writing to its answer, {', '.join(_WATCHED)} watched, each by somebody else; "
        f"{seconds:g} s of a heat that has just begun, each time on a server of its own",
        columns=("facts a second", "half within ms", "99 % within ms"),
        rows=tuple(rows),
        goals=tuple(
            Goal(says=f"99 % of answers at {rate} facts a second", found=most[rate], bound=bound, unit="ms")
            for rate, bound in _BOUNDS_MS.items()
            if rate in most
        ),
    )


def _by_length(scale: Scale) -> FigureTable:
    rate, stretch, stretches = max(_BOUNDS_MS), scale.sized(5000, quick=50), scale.sized(6, quick=2)
    rows: list[tuple[Cell, ...]] = []
    with _floor(scale, taps=stretch * stretches) as pads:
        for number in range(stretches):
            waits = answered(pads, rate, stretch / rate)
            rows.append((number * stretch, Figure.of([median(waits)]), Figure.of([_most(waits)])))
    return FigureTable(
        title=f"The same at {rate} facts a second while one heat gets longer",
        columns=("facts of the heat before", "half within ms", "99 % within ms"),
        rows=tuple(rows),
    )


@contextmanager
def _floor(scale: Scale, *, taps: int) -> Iterator[FloorPads]:
    """Give the pads of a heat that has room for so many taps, once the helper has been asked for a while."""
    warm_s = scale.sized(3.0, quick=0.2)
    with tempfile.TemporaryDirectory() as folder:
        room = taps + round(_WARM_RATE * warm_s)
        with our_floor(Path(folder), taps=room, views=_WATCHED) as pads:
            answered(pads, _WARM_RATE, warm_s)
            yield pads


def answered(pads: FloorPads, rate: int, seconds: float) -> list[float]:
    """Tap at a rate for so long, and give the milliseconds until each answer.

    Raises TallywireError when answers do not come, or nobody who watches is sent anything: then nothing is measured.
    """
    pads.waits_ms.clear()
    heard, due = pads.texts, time.perf_counter()
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
    if pads.texts - heard <= taps:
        raise TallywireError(f"found no frame after {taps} facts, expected that they change what is watched")
    return list(pads.waits_ms)


def _most(waits_ms: list[float]) -> float:
    return sorted(waits_ms)[ceil(0.99 * len(waits_ms)) - 1]
