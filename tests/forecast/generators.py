"""Three ways to make up a heat, none of them the forecast's model.

Every generator draws one workout out of several, an organiser's expected times that are off, a field of entries, and
for every lane the moment of every unit; a block credited as one is seen at its end only. Times are ms.

`steady` keeps one pace a station with the spread of real repetitions; `fade` builds up fatigue, works in sets that
shrink with rests between them, and in some lanes breaks down with a long rest; `storms` starts too fast, pays for it,
and meets stations where every other attempt is a no-rep. In each, one lane in seventy withdraws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tallywire.core.model.workout import Credit, Plan, Station, Workout

Rng = np.random.Generator
Array = npt.NDArray[np.float64]
Trail = list[tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeHeat:
    """A heat with its truth. `trails` go on past the cap; `finish_ms` is infinite for a lane that withdraws, and
    `left_ms` is when the judge said so; infinite for all others.
    """

    kind: str
    plan: Plan
    trails: list[Trail]
    finish_ms: list[float]
    left_ms: list[float]


@dataclass(frozen=True, slots=True)
class Leg:
    """One station of one round as a generator sees it: the true time of the whole for an entry of usual speed."""

    station: Station
    true_ms: float
    progress: float


def make_heat(kind: str, seed: int) -> MadeHeat:
    """Make the heat of a generator and a seed."""
    rng = np.random.default_rng([seed, sorted(GENERATORS).index(kind)])
    rounds = SHAPES[rng.integers(len(SHAPES))]
    legs = _legs(rng, rounds)
    field = GENERATORS[kind][0](rng)
    trails, finishes = [], []
    for _ in range(int(rng.integers(6, 13))):
        trail, finish = _lane(rng, legs, GENERATORS[kind][1](rng, field))
        trails.append(trail)
        finishes.append(finish)
    done = [finish for finish in finishes if np.isfinite(finish)]
    cap = int(np.median(done) * rng.uniform(0.92, 1.3)) if done else 900_000
    workout = Workout(format="for_time", rounds=rounds, time_cap_ms=cap)
    left = [
        (trail[-1][0] if trail else 0) + rng.uniform(10_000, 60_000) if np.isinf(finish) else np.inf
        for trail, finish in zip(trails, finishes, strict=True)
    ]
    return MadeHeat(kind=kind, plan=Plan(workout, laps=1), trails=trails, finish_ms=finishes, left_ms=left)


def _station(movement: str, amount: int, seconds: float, *, block: bool = False) -> Station:
    credit = Credit.BLOCK if block else Credit.UNIT
    return Station(movement=movement, amount=amount, credit=credit, expected_ms=round(seconds * 1000))


SHAPES: tuple[tuple[tuple[Station, ...], ...], ...] = (
    (
        (
            _station("rope climb", 2, 27),
            _station("sandbag", 12, 41),
            _station("shuttle touch", 24, 22, block=True),
            _station("step-over", 14, 38),
        ),
    )
    * 4,
    tuple(
        (_station("swing", n, n * 1.7 + 4), _station("burpee", n, n * 3.1 + 4), _station("carry", 1, 21))
        for n in (21, 15, 9)
    ),
    ((_station("pull", 6, 15), _station("press", 9, 24), _station("squat", 15, 33)),) * 8,
    (
        (
            _station("ski", 50, 170, block=True),
            _station("lunge", 40, 95),
            _station("clean", 30, 130),
            _station("wall shot", 50, 125),
            _station("lunge", 20, 55),
            _station("clean", 15, 70),
        ),
    ),
)


def _legs(rng: Rng, rounds: tuple[tuple[Station, ...], ...]) -> list[Leg]:
    """The organiser's expected times are off: by about 12 % for the workout and 15 % for each movement."""
    stations = [station for each in rounds for station in each]
    level = rng.lognormal(0, 0.12)
    off = {station.movement: level * rng.lognormal(0, 0.15) for station in stations}
    expected = np.array([float(station.expected_ms) for station in stations])
    middle = (np.cumsum(expected) - expected / 2) / expected.sum()
    return [
        Leg(station, station.expected_ms * off[station.movement], float(at))
        for station, at in zip(stations, middle, strict=True)
    ]


Times = Callable[[Rng, Leg], Array]
"""The time of every unit of a leg, transition in the first, for one entry; keeps its own state between legs."""


def _lane(rng: Rng, legs: list[Leg], unit_times: Times) -> tuple[Trail, float]:
    leaves = rng.uniform() if rng.uniform() < 1 / 70 else 2.0
    at_ms, done = 0.0, 0
    trail: Trail = []
    for leg in legs:
        if leg.progress > leaves:
            return trail, float("inf")
        ends = at_ms + np.cumsum(unit_times(rng, leg))
        if leg.station.credit is Credit.BLOCK:
            trail.append((round(ends[-1]), done + leg.station.amount))
        else:
            trail.extend((round(end), done + n) for n, end in enumerate(ends, start=1))
        at_ms, done = float(ends[-1]), done + leg.station.amount
    return trail, float(trail[-1][0])


def _units(rng: Rng, leg: Leg, ms: float, spread: float) -> Array:
    """Split a leg into a transition of about 4 s (15 % of short legs) and units with a gamma-distributed time."""
    walk = min(4000.0, 0.15 * ms) if leg.station.amount > 1 else 0.0
    shape = 1 / spread**2
    times = rng.gamma(shape, (ms - walk) / leg.station.amount / shape, leg.station.amount)
    times[0] += walk * rng.gamma(6.0, 1 / 6)
    return times


def _talents(rng: Rng, spread: float) -> Callable[[str], float]:
    known: dict[str, float] = {}

    def talent(movement: str) -> float:
        return known.setdefault(movement, float(rng.lognormal(0, spread)))

    return talent


def _steady(rng: Rng, field: float) -> Times:
    speed, drift = rng.lognormal(0, 0.08), field + rng.normal(0, 0.04)
    talent = _talents(rng, 0.06)

    def times(rng: Rng, leg: Leg) -> Array:
        ms = leg.true_ms * speed * talent(leg.station.movement) * (1 + drift * leg.progress) * rng.lognormal(0, 0.05)
        return _units(rng, leg, ms, 0.25)

    return times


def _fade(rng: Rng, field: float) -> Times:
    """Time per unit grows with the square of fatigue; sets shrink and rests grow; a breakdown changes both for good."""
    speed, toll, sets = rng.lognormal(-0.08, 0.09), field * rng.gamma(4.0, 0.25), rng.uniform(8, 22)
    talent = _talents(rng, 0.05)
    breaks = rng.uniform(0.35, 0.9) if rng.uniform() < 0.25 else 2.0
    broken = [1.0]

    def times(rng: Rng, leg: Leg) -> Array:
        fatigue = leg.progress
        ms = leg.true_ms * speed * talent(leg.station.movement) * (1 + toll * fatigue**2) * broken[0]
        found = _units(rng, leg, ms, 0.22)
        size = max(2, int(sets * np.exp(-0.8 * fatigue) / broken[0]))
        rests = np.arange(size, len(found), size)
        if leg.station.credit is Credit.UNIT:
            found[rests] += rng.gamma(2.0, 900 * (1 + fatigue) * broken[0] ** 2, len(rests))
        if broken[0] == 1.0 and leg.progress > breaks:
            broken[0] = rng.uniform(1.15, 1.4)
            found[rng.integers(len(found))] += rng.uniform(20_000, 60_000)
        return found

    return times


def _storms(rng: Rng, field: float) -> Times:
    speed, rush = rng.lognormal(0, 0.08), field + rng.normal(0, 0.03)
    talent = _talents(rng, 0.05)
    chance = rng.gamma(2.0, 0.04)

    def times(rng: Rng, leg: Leg) -> Array:
        late = np.interp(leg.progress, [0.0, 0.25, 0.6, 1.0], [1 - rush, 1.0, 1 + rush, 1 + 1.3 * rush])
        found = _units(rng, leg, leg.true_ms * speed * talent(leg.station.movement) * late, 0.25)
        if leg.station.credit is Credit.UNIT and rng.uniform() < chance:
            found *= rng.geometric(0.55, len(found))
        return found

    return times


GENERATORS: dict[str, tuple[Callable[[Rng], float], Callable[[Rng, float], Times]]] = {
    "steady": (lambda rng: float(rng.normal(0.04, 0.05)), _steady),
    "fade": (lambda rng: float(rng.uniform(0.05, 0.2)), _fade),
    "storms": (lambda rng: float(rng.uniform(0.06, 0.16)), _storms),
}
