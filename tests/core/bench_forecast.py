"""Measure a whole forecast of 20 lanes with 4,000 draws, standings included, beside the bare draws.

    PYTHONPATH=server:tests python tests/core/bench_forecast.py [runs]

`bare numbers` draws the same random numbers and nothing else; `bare ranking` also turns them into finish times and
ranks them twice by argsort, the least any program has to do. Processor time is given beside wall time, because a
shared machine stretches the latter; linear algebra is kept on one thread, as a server would.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from statistics import median

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from core.samples import workout
from forecast.generators import SHAPES
from tallywire.core.clinching.race import Contender
from tallywire.core.clinching.race import Race as NeededRace
from tallywire.core.forecast.of_event import overall_of
from tallywire.core.forecast.predict import forecast
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.model.workout import Credit, Plan
from tallywire.core.ranking.points import PointsTable

LANES = 20
DRAWS = 4000
EFFECTS = 7


def main() -> None:
    """Print medians and bests of every measure, and the ratios."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    asked = scene()
    whole = measure("whole forecast", lambda: forecast(asked, seed=1, draws=DRAWS), runs)
    numbers = measure("bare numbers", bare_numbers, runs)
    ranking = measure("bare ranking", bare_ranking, runs)
    print(f"ratio to bare numbers {whole / numbers:.1f}, to bare ranking {whole / ranking:.1f}")


def measure(name: str, act: Callable[[], object], runs: int) -> float:
    """Time an action; gives the median processor time in ms."""
    act()
    walls, processors = [], []
    for _ in range(runs):
        wall, processor = time.perf_counter(), time.thread_time()
        act()
        walls.append(1000 * (time.perf_counter() - wall))
        processors.append(1000 * (time.thread_time() - processor))
    print(
        f"{name:15} wall {median(walls):6.2f} ms (best {min(walls):.2f}), "
        f"processor {median(processors):6.2f} ms (best {min(processors):.2f})"
    )
    return median(processors)


def scene() -> Scene:
    """Twenty lanes around the middle of four rounds with a block, some of them in danger of the cap."""
    plan = Plan(workout(rounds=SHAPES[0], cap_ms=640_000), laps=1)
    rng = np.random.default_rng(4)
    runners = []
    for lane in range(1, LANES + 1):
        steps = [(leg.done_after, leg) for leg in plan.legs]
        at_ms, trail = 0.0, []
        for done, leg in steps:
            units = 1 if leg.station.credit is Credit.BLOCK else leg.station.amount
            for unit in range(units):
                at_ms += rng.gamma(20, 30_000 / units / 20) * (0.95 + 0.01 * lane)
                trail.append((round(at_ms), done - units + unit + 1))
        seen = [fact for fact in trail if fact[0] <= 330_000]
        runners.append(Runner(lane=lane, entry=f"e{lane}", division="d", trail=seen))
    before = tuple(Contender(entry=f"e{lane}", points=500 - 7 * lane) for lane in range(1, LANES + 1))
    worth = tuple(range(100, 0, -5))
    overall = {"d": overall_of(NeededRace(contenders=before, table=PointsTable(worth)))}
    return Scene(plan=plan, runners=runners, now_ms=330_000, worth=worth, overall=overall)


def draw() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The random numbers of one forecast: two uniform and one normal a lane and draw, and the field's."""
    rng = np.random.Generator(np.random.SFC64(1))
    chance, share = rng.random((2, LANES, DRAWS), dtype=np.float32)
    pace = rng.standard_normal((LANES, DRAWS), dtype=np.float32)
    rng.standard_normal((EFFECTS, DRAWS), dtype=np.float32)
    rng.standard_gamma(100.0, DRAWS)
    return chance, share, pace


def bare_numbers() -> None:
    """Draw and throw away."""
    draw()


def bare_ranking() -> None:
    """Draw finish times and rank them in the heat and overall."""
    chance, share, pace = draw()
    finish = np.exp(pace) + chance + share
    for key in (finish, -finish):
        np.argsort(np.argsort(np.ascontiguousarray(key.T), axis=1), axis=1)


if __name__ == "__main__":
    main()
