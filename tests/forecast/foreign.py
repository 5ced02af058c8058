"""Three more ways to make up a heat, written before their author had read the model or its page.

They share the interface of `generators` and none of its shapes: the workout is drawn at random for each heat, the
organiser's expected times are off by up to a third, and repetitions are log-normal.

`wander` has fatigue that is remembered from repetition to repetition and walks off either way; `kick` holds back and
gets faster, with a sprint at the end; `halts` has a different round every time, athletes who are good at one movement
and poor at the next, and rare long breaks. In each, about one lane in eighty withdraws. Times are ms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forecast.generators import MadeHeat
from tallywire.core.model.workout import Credit, Plan, Station, Workout

Rng = np.random.Generator
Array = npt.NDArray[np.float64]
Rounds = tuple[tuple[Station, ...], ...]

MOVEMENTS = (
    ("box climb", 4200.0),
    ("bell swing", 1900.0),
    ("bar thruster", 3000.0),
    ("ring row", 2400.0),
    ("sit-up", 2200.0),
    ("plate jump", 2700.0),
    ("stone lift", 5600.0),
    ("bike calorie", 3300.0),
)
"""Invented movements and the usual time of one repetition in ms."""


@dataclass(frozen=True, slots=True)
class Workload:
    """A drawn workout: its rounds, the true usual time of one unit of each movement, and all units in order."""

    rounds: Rounds
    unit_ms: dict[str, float]

    @property
    def stations(self) -> list[Station]:
        """Every station in the order in which it is done."""
        return [station for each in self.rounds for station in each]


def make_foreign(kind: str, seed: int) -> MadeHeat:
    """Make the heat of one of the `FOREIGN` generators and a seed."""
    rng = np.random.default_rng([seed, 7, sorted(FOREIGN).index(kind)])
    draw_rounds, field, lane = FOREIGN[kind]
    work = _workload(rng, draw_rounds(rng))
    shared = field(rng)
    ends = [np.cumsum(lane(rng, work, shared)) for _ in range(int(rng.integers(5, 15)))]
    cap = int(np.median([each[-1] for each in ends]) * rng.uniform(0.88, 1.25))
    kept = [_leaver(rng, each) for each in ends]
    return MadeHeat(
        kind=kind,
        plan=Plan(Workout(format="for_time", rounds=work.rounds, time_cap_ms=cap), laps=1),
        trails=[_trail(work, each[:upto]) for each, upto in zip(ends, kept, strict=True)],
        finish_ms=[
            float(round(each[-1])) if upto == len(each) else np.inf for each, upto in zip(ends, kept, strict=True)
        ],
        left_ms=[
            np.inf if upto == len(each) else float(each[upto] + rng.uniform(5_000, 45_000))
            for each, upto in zip(ends, kept, strict=True)
        ],
    )


def _leaver(rng: Rng, ends: Array) -> int:
    """How many units a lane completes: all, or in one of eighty as many as it had when it stopped."""
    return int(rng.integers(len(ends))) if rng.uniform() < 1 / 80 else len(ends)


def _trail(work: Workload, ends: Array) -> list[tuple[int, int]]:
    """Counts as a judge's taps show them: a block at its last unit only."""
    trail, done = [], 0
    for station in work.stations:
        upto = done + station.amount
        shown = range(upto, upto + 1) if station.credit is Credit.BLOCK else range(done + 1, upto + 1)
        trail += [(round(ends[count - 1]), count) for count in shown if count <= len(ends)]
        done = upto
    return trail


def _workload(rng: Rng, amounts: list[list[tuple[int, int]]]) -> Workload:
    """Stations with the organiser's expected times, and the truth from which these are off by up to a third."""
    level = rng.uniform(2 / 3, 4 / 3)
    used = {movement for each in amounts for movement, _ in each}
    truth = {MOVEMENTS[m][0]: MOVEMENTS[m][1] * rng.lognormal(0, 0.2) for m in sorted(used)}
    guess = {name: level * ms * rng.lognormal(0, 0.12) for name, ms in truth.items()}
    block = sorted(used)[0] if rng.uniform() < 0.4 else -1
    rounds = tuple(
        tuple(
            Station(
                movement=MOVEMENTS[m][0],
                amount=amount,
                credit=Credit.BLOCK if m == block else Credit.UNIT,
                expected_ms=max(1000, round(amount * guess[MOVEMENTS[m][0]])),
            )
            for m, amount in each
        )
        for each in amounts
    )
    return Workload(rounds, truth)


def _same_rounds(rng: Rng) -> list[list[tuple[int, int]]]:
    """Three to seven equal rounds of two to four stations."""
    chosen = rng.choice(len(MOVEMENTS), int(rng.integers(2, 5)), replace=False)
    return [[(int(m), int(amount)) for m, amount in zip(chosen, _amounts(rng, len(chosen)), strict=True)]] * int(
        rng.integers(3, 8)
    )


def _rising_rounds(rng: Rng) -> list[list[tuple[int, int]]]:
    """Rounds that grow or shrink by the same step, as 4, 8, 12 … or 25, 20, 15 …"""
    chosen = rng.choice(len(MOVEMENTS), 2, replace=False)
    step, count = int(rng.integers(2, 6)), int(rng.integers(4, 7))
    sizes = [step * n for n in range(1, count + 1)]
    if rng.uniform() < 0.5:
        sizes.reverse()
    return [[(int(m), size) for m in chosen] for size in sizes]


def _own_rounds(rng: Rng) -> list[list[tuple[int, int]]]:
    """Three to six rounds, each with stations of its own."""
    found = []
    for _ in range(int(rng.integers(3, 7))):
        chosen = rng.choice(len(MOVEMENTS), int(rng.integers(1, 4)), replace=False)
        found.append([(int(m), int(a)) for m, a in zip(chosen, _amounts(rng, len(chosen)), strict=True)])
    return found


def _amounts(rng: Rng, count: int) -> npt.NDArray[np.int_]:
    return rng.integers(5, 31, count)


def _usual(work: Workload) -> Array:
    """The usual time of every unit of the workout."""
    return np.concatenate([np.full(each.amount, work.unit_ms[each.movement]) for each in work.stations])


def _starts(work: Workload) -> npt.NDArray[np.int_]:
    """The first unit of every station, at which a lane has walked over."""
    return np.cumsum([0] + [each.amount for each in work.stations[:-1]])


def _share(usual: Array) -> Array:
    """How much of the work is behind a lane at each unit, from 0 to 1."""
    return np.asarray((np.cumsum(usual) - usual / 2) / usual.sum())


def _tired(rng: Rng, count: int, *, memory: float, spread: float) -> Array:
    """Log-pace that is remembered: each unit keeps `memory` of the last; `spread` is its spread in the long run."""
    shocks = rng.normal(0, spread * np.sqrt(1 - memory**2), count)
    found, last = np.empty(count), rng.normal(0, spread)
    for n in range(count):
        last = memory * last + shocks[n]
        found[n] = last
    return found


def _wander(rng: Rng, work: Workload, drift: float) -> Array:
    usual = _usual(work)
    own = drift + rng.normal(0, 0.08)
    mood = _tired(rng, len(usual), memory=0.985, spread=0.10)
    times = usual * np.exp(rng.normal(0, 0.10) + own * _share(usual) + mood + rng.normal(0, 0.28, len(usual)))
    times[_starts(work)] += rng.lognormal(np.log(4500), 0.35, len(work.stations))
    return np.asarray(times)


def _kick(rng: Rng, work: Workload, saving: float) -> Array:
    """Held back at the start and faster all the way; most sprint the last tenth; one in five does neither."""
    usual = _usual(work)
    share = _share(usual)
    plan = saving * rng.lognormal(0, 0.35) if rng.uniform() < 0.8 else 0.0
    sprint = np.where(share > 0.9, rng.uniform(0, 0.18), 0.0) if plan else 0.0
    pace = plan * (0.5 - share) - sprint + rng.normal(0, 0.09)
    times = usual * np.exp(pace + _tired(rng, len(usual), memory=0.9, spread=0.06) + rng.normal(0, 0.2, len(usual)))
    times[_starts(work)] += rng.lognormal(np.log(3500), 0.3, len(work.stations))
    return np.asarray(times)


def _halts(rng: Rng, work: Workload, tiring: float) -> Array:
    """Good at one movement and poor at the next; some stand still for long, most never."""
    usual = _usual(work)
    skill = {name: rng.lognormal(0, 0.12) for name in work.unit_ms}
    skills = np.concatenate([np.full(each.amount, skill[each.movement]) for each in work.stations])
    own = tiring * rng.lognormal(0, 0.4) * _share(usual)
    times = usual * skills * np.exp(rng.normal(0, 0.08) + own + rng.normal(0, 0.25, len(usual)))
    times[_starts(work)] += rng.lognormal(np.log(5000), 0.4, len(work.stations))
    for _ in range(rng.poisson(0.5)):
        times[rng.integers(len(times))] += rng.lognormal(np.log(20_000), 0.7)
    return np.asarray(times)


Field = Callable[[Rng], float]
Lane = Callable[[Rng, Workload, float], Array]
FOREIGN: dict[str, tuple[Callable[[Rng], list[list[tuple[int, int]]]], Field, Lane]] = {
    "wander": (_same_rounds, lambda rng: float(rng.normal(0.06, 0.10)), _wander),
    "kick": (_rising_rounds, lambda rng: float(rng.uniform(0.08, 0.3)), _kick),
    "halts": (_own_rounds, lambda rng: float(rng.uniform(0.02, 0.25)), _halts),
}
