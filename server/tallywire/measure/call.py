"""The call of twenty lanes: its forecast with the standings in it, and everything else that a commentator is told."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from itertools import islice
from multiprocessing import get_context

from tallywire.core.call.steps import see
from tallywire.core.call.whole import listen, look_ahead, make_call
from tallywire.core.cues import CueDesk
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.forecast.answer import DRAWS
from tallywire.core.model.competition import Competition
from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.long_heat import HEAT, START_UNIX_MS, long_competition, started, uneven_taps
from tallywire.measure.scale import Scale
from tallywire.measure.turns import StopWatch
from tallywire.shell.helper.child import ENVIRONMENT
from tallywire.wire.cue_wording import default_wording

LANES, FACTS = 20, 2_000
FORECAST, WHOLE = "the forecast, standings included", "the whole call"
_FORECAST_MS, _CALL_MS = 5, 15


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Make the call after each of some more taps, step by step, in a process like the helper's."""
    with _environment(), ProcessPoolExecutor(max_workers=1, mp_context=get_context("spawn")) as helper:
        rounds = helper.submit(_rounds, scale).result()
    found = {step: Figure.of(each[step] for each in rounds) for step in rounds[0]}
    rows: list[tuple[Cell, ...]] = list(found.items())
    yield FigureTable(
        title=f"The call of {LANES} lanes with {FACTS:,} facts, {DRAWS:,} draws",
        columns=("step", "ms of the processor"),
        rows=tuple(rows),
        goals=(
            Goal(says=FORECAST, found=found[FORECAST], bound=_FORECAST_MS, unit="ms"),
            Goal(says=WHOLE, found=found[WHOLE], bound=_CALL_MS, unit="ms"),
        ),
    )


@contextmanager
def _environment() -> Iterator[None]:
    """Let processes that are started find what the helper's process finds."""
    before = dict(os.environ)
    os.environ.update(ENVIRONMENT)
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)


def _rounds(scale: Scale) -> list[dict[str, float]]:
    competition, times = long_competition(lanes=LANES, taps=2 * FACTS), scale.sized(30, quick=3)
    calls = Calls(competition)
    calls.make(1)
    return [calls.make(times) for _ in range(scale.repeats)]


class Calls:
    """A heat whose call is made after every tap."""

    def __init__(self, competition: Competition) -> None:
        self._competition = competition
        self._book, self._coming = CompetitionBook(competition), uneven_taps(lanes=LANES)
        self._book.fill([started(), *islice(self._coming, FACTS)])
        self._desk, self._wording = CueDesk(), default_wording()

    def make(self, times: int) -> dict[str, float]:
        """Give the mean processor milliseconds of each step, and of all."""
        watch = StopWatch()
        for _ in range(times):
            self._book.add(next(self._coming))
            self._make(watch)
        steps = {step: sum(laps) / times / 1000 for (step, _), laps in watch.laps.items()}
        return {**steps, WHOLE: sum(steps.values())}

    def _make(self, watch: StopWatch) -> None:
        watch.begin()
        now = self._book.at(unix_ms=START_UNIX_MS + self._book.heats[HEAT].last_ms())
        sight = see(now, now.heats[HEAT])
        watch.lap("the heat is looked at")
        outlook = look_ahead(self._competition, sight)
        watch.lap(FORECAST)
        self._desk = listen(self._competition, self._desk, sight, outlook)
        watch.lap("the cue desk listens")
        make_call(self._competition, sight, outlook, desk=self._desk, wording=self._wording)
        watch.lap("what is needed, and the frame")
