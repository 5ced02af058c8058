"""Heats from real split times: a city marathon's published marks, scaled to stations of about a minute.

Source: published results of a city marathon, 2017; anonymous rows, every 5 km and the finish. Times are divided by 25.
Ten who are level at 10 km make a heat of nine stations (eight of 5 km and the last 2.195), every kilometre expected to
take 12 s of everybody: too little for most, and nobody tuned it. Times are ms.

The one-liners that anybody could use instead: constant pace, the pace of the last split, and Riegel's rule (American
Scientist 69(3), 1981), T2 = T1 (D2 / D1)^1.06.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from forecast.generators import Array
from tallywire.core.forecast.ends import play_out
from tallywire.core.forecast.model import Taught
from tallywire.core.forecast.of_event import taught_by
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.model.workout import Credit, Plan, Station, Workout

SAMPLE = Path(__file__).parent / "data" / "road-race-splits.csv"
KM = np.array([5, 10, 15, 20, 25, 30, 35, 40, 42.195])
SCALE = 25
LANES = 10
EXPECTED_MS_A_KM = 12_000
PARTS = (0.25, 0.5, 0.75)
NEVER_MS = 36_000_000
RIEGEL = 1.06
PLAN = Plan(
    Workout(
        format="for_time",
        rounds=tuple(
            (Station(movement="run", amount=5, credit=Credit.BLOCK, expected_ms=round(EXPECTED_MS_A_KM * km)),)
            for km in np.diff(KM, prepend=0.0)
        ),
        time_cap_ms=NEVER_MS,
    ),
    laps=1,
)
"""Every station is a block, credited when it is complete, as a split is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadCase:
    """One runner at one moment: thirds (0 fast … 2 slow) by the finish among all rows and by the time at 10 km, the
    truth, and what the model (80 % interval and median) and the one-liners said.
    """

    by_finish: int
    by_start: int
    part: float
    truth: float
    median: float
    low: float
    high: float
    said: dict[str, float]

    @property
    def held(self) -> bool:
        """Whether the 80 % interval held the finish."""
        return self.low <= self.truth <= self.high


def read_rows(file: Path = SAMPLE) -> Array:
    """Read the marks of everybody (n, 9), in ms of the scaled heat."""
    return np.loadtxt(file, delimiter=",", skiprows=1) * (1000 / SCALE)


def heats(rows: Array) -> list[Array]:
    """Deal rows into heats of ten who are level at 10 km; a rest that fills no heat is left out."""
    ordered = rows[np.argsort(rows[:, 1], kind="stable")]
    return [ordered[n : n + LANES] for n in range(0, len(ordered) - LANES + 1, LANES)]


def scene_of(heat: Array, now_ms: float, *, learned: Taught | None = None) -> Scene:
    """What is seen of a heat at a moment."""
    runners = [
        Runner(
            lane=lane,
            entry=f"e{lane}",
            division="d",
            trail=[(round(at_ms), 5 * n) for n, at_ms in enumerate(marks, start=1) if at_ms <= now_ms],
            finish_ms=round(marks[-1]) if marks[-1] <= now_ms else None,
        )
        for lane, marks in enumerate(heat, start=1)
    ]
    return Scene(plan=PLAN, runners=runners, now_ms=round(now_ms), learned=learned)


def constant_pace(marks: Array) -> float:
    """Go on at the mean pace of the marks passed."""
    return float(marks[-1] * KM[-1] / KM[len(marks) - 1])


def last_split(marks: Array) -> float:
    """Go on at the pace between the last two marks."""
    km, times = np.append(0.0, KM[: len(marks)]), np.append(0.0, marks)
    return float(times[-1] + (KM[-1] - km[-1]) * (times[-1] - times[-2]) / (km[-1] - km[-2]))


def riegel(marks: Array) -> float:
    """T2 = T1 (D2 / D1)^1.06: 20:00 over 5 km gives 41:41.918 over 10 (worked there)."""
    return float(marks[-1] * (KM[-1] / KM[len(marks) - 1]) ** RIEGEL)


ONE_LINERS: dict[str, Callable[[Array], float]] = {
    "constant pace": constant_pace,
    "last split": last_split,
    "Riegel": riegel,
}


def moments(heat: Array) -> Iterator[tuple[float, float]]:
    """When a quarter, a half and three quarters of the leader's time are over."""
    first = float(heat[:, -1].min())
    return ((part, part * first) for part in PARTS)


def try_heats(found: Sequence[Array], *, teach: Callable[[int], Taught | None], draws: int) -> list[RoadCase]:
    """Forecast every heat at every moment; `teach` gives what is believed before the heat of a number."""
    every = np.concatenate(list(found))
    edges = [np.quantile(every[:, column], [1 / 3, 2 / 3]) for column in (-1, 1)]
    return [
        case
        for number, heat in enumerate(found)
        for part, now_ms in moments(heat)
        for case in _cases(heat, part, scene_of(heat, now_ms, learned=teach(number)), edges, draws, number)
    ]


def _cases(  # noqa: PLR0913, PLR0917
    heat: Array, part: float, asked: Scene, edges: Sequence[Array], draws: int, seed: int
) -> Iterator[RoadCase]:
    drawn = play_out(asked, seed=seed, draws=draws).finish_ms
    assert drawn is not None
    ends = np.quantile(drawn, [0.1, 0.5, 0.9], axis=1, method="nearest").T
    for marks, (low, median, high) in zip(heat, ends.tolist(), strict=True):
        seen = marks[marks <= asked.now_ms]
        yield RoadCase(
            by_finish=int(np.searchsorted(edges[0], marks[-1])),
            by_start=int(np.searchsorted(edges[1], marks[1])),
            part=part,
            truth=float(marks[-1]),
            median=median,
            low=low,
            high=high,
            said={name: tell(seen) for name, tell in ONE_LINERS.items()},
        )


EARLIER = 20
DEVELOPED = 2000
"""So many earlier heats teach; on so many of the rows the model was developed, the others are for the report."""


def lessons(rows: Array, *, count: int) -> list[Taught | None]:
    """What twenty earlier heats teach, drawn `count` times from those of some rows, by the door of the product."""
    rng, every = np.random.default_rng(20), heats(rows)
    return [
        taught_by(scene_of(every[n], NEVER_MS - 1) for n in rng.choice(len(every), EARLIER, replace=False))
        for _ in range(count)
    ]


def coverage(cases: Sequence[RoadCase]) -> float:
    """The share of finishes in the 80 % interval, in per cent."""
    return 100 * float(np.mean([case.held for case in cases]))


def errors(cases: Sequence[RoadCase]) -> dict[str, float]:
    """How far the median and the one-liners are off on average, in seconds."""
    truth = np.array([case.truth for case in cases])
    said = {"forecast": [case.median for case in cases]}
    said |= {name: [case.said[name] for case in cases] for name in ONE_LINERS}
    return {name: float(np.abs(np.array(values) - truth).mean()) / 1000 for name, values in said.items()}
