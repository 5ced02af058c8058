"""A trial: made-up heats, stopped at parts of the leader's work, forecast, and compared with how they ended."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from forecast.baselines import BASELINES, with_error
from forecast.generators import Array, MadeHeat, Trail
from forecast.scores import crps, log_loss
from forecast.worlds import make_heat
from tallywire.core.forecast.draws import place_chances, places
from tallywire.core.forecast.ends import play_out
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.gaps.gaps import work_ms

PARTS = (0.25, 0.5, 0.75)
LEVELS = (0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975)
OURS = "forecast"
CAPPED = 1e12
Errors = Mapping[tuple[str, float], float]
"""The usual error of each baseline at each part, as a share of the time it leaves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One lane still at work at one moment: what was said and what came.

    `crps` (ms) and `loss` are by forecaster; `point_error` (ms) is the plain error of each baseline. A lane that
    withdraws later has no finish: its `truth` is infinite, and it counts for cap and places alone.
    """

    kind: str
    seed: int
    part: float
    truth: float
    inside: bool
    cap_chance: float
    quantiles: Mapping[float, float]
    crps: Mapping[str, float]
    loss: Mapping[str, float]
    point_error: Mapping[str, float]

    @property
    def finished(self) -> bool:
        """Whether there is a finish to compare with."""
        return bool(np.isfinite(self.truth))

    def covered(self, low: float, high: float) -> bool:
        """Whether the truth lies between two of the quantiles."""
        return self.quantiles[low] <= self.truth <= self.quantiles[high]


def moments(heat: MadeHeat) -> Iterator[tuple[float, int]]:
    """When the leader has done each part of the work; moments past the cap are left out."""
    whole = work_ms(heat.plan, heat.plan.total_done or 0)
    for part in PARTS:
        passed = [_passed(heat, trail, part * whole) for trail in heat.trails]
        first = min((at_ms for at_ms in passed if at_ms is not None), default=None)
        if first is not None and first < heat.plan.workout.time_cap_ms:
            yield part, first


def scene_at(heat: MadeHeat, now_ms: int) -> Scene:
    """The heat as it is seen at a moment."""
    lanes = enumerate(zip(heat.trails, heat.finish_ms, heat.left_ms, strict=True), start=1)
    runners = [
        Runner(
            lane=lane,
            entry=f"e{lane}",
            division="d",
            trail=_cut(trail, now_ms),
            finish_ms=int(finish) if finish <= now_ms else None,
            out=left <= now_ms,
        )
        for lane, (trail, finish, left) in lanes
    ]
    return Scene(plan=heat.plan, runners=runners, now_ms=now_ms)


def true_places(heat: MadeHeat) -> list[int]:
    """The places at the end: finish times inside the cap, then scored reps, then those who withdrew."""
    cap = heat.plan.workout.time_cap_ms
    keys = []
    for trail, finish in zip(heat.trails, heat.finish_ms, strict=True):
        seen = _cut(trail, cap)
        capped = CAPPED - (heat.plan.scored(seen[-1][1]) if seen else 0)
        keys.append(finish if finish <= cap or np.isinf(finish) else capped)
    return [int(place) for place in places(np.array(keys)[:, None])[:, 0]]


def try_heat(heat: MadeHeat, seed: int, errors: Errors, *, draws: int) -> list[Case]:
    """Forecast one heat at every moment, by the model and by the baselines with their usual errors."""
    won = true_places(heat)
    cases = []
    for part, now_ms in moments(heat):
        asked = scene_at(heat, now_ms)
        ends = play_out(asked, seed=seed, draws=draws)
        assert ends.finish_ms is not None
        rng = np.random.default_rng([seed, round(100 * part)])
        points = {name: [tell(heat.plan, each.trail, now_ms) for each in asked.runners] for name, tell in _TELLERS}
        finishes = {name: _around(asked, points[name], errors[name, part], rng, draws) for name in points}
        finishes[OURS] = ends.finish_ms.astype(np.float64)
        keys = finishes | {OURS: ends.keys.astype(np.float64)}
        chances = {name: place_chances(places(drawn), len(won)) for name, drawn in keys.items()}
        for row, runner in enumerate(asked.runners):
            if runner.finish_ms is None and not runner.out:
                truth = heat.finish_ms[row]
                ordered = np.sort(finishes[OURS][row])
                cases.append(
                    Case(
                        kind=heat.kind,
                        seed=seed,
                        part=part,
                        truth=truth,
                        inside=truth <= heat.plan.workout.time_cap_ms,
                        cap_chance=float((ordered <= heat.plan.workout.time_cap_ms).mean()),
                        quantiles={level: float(ordered[round(level * (draws - 1))]) for level in LEVELS},
                        crps={name: _crps(drawn[row], truth) for name, drawn in finishes.items()},
                        loss={
                            name: log_loss(float(chance[row, won[row] - 1]), draws, len(won))
                            for name, chance in chances.items()
                        },
                        point_error={name: abs(said[row] - truth) for name, said in points.items()},
                    )
                )
    return cases


def usual_errors(kinds: Iterable[str], seeds: range) -> dict[tuple[str, float], float]:
    """Learn the baselines' root mean square error at each part, as a share of the time left, from other heats."""
    found: dict[tuple[str, float], list[float]] = {}
    for heat in (make_heat(kind, seed) for kind in kinds for seed in seeds):
        for part, now_ms in moments(heat):
            for runner, truth in zip(scene_at(heat, now_ms).runners, heat.finish_ms, strict=True):
                if truth > now_ms and np.isfinite(truth):
                    for name, tell in _TELLERS:
                        said = tell(heat.plan, runner.trail, now_ms)
                        off = (truth - said) / max(said - now_ms, 1000.0)
                        found.setdefault((name, part), []).append(min(3.0, abs(off)))
    return {key: float(np.sqrt(np.mean(np.square(values)))) for key, values in found.items()}


_TELLERS = tuple(BASELINES.items())


def _around(asked: Scene, points: list[float], error: float, rng: np.random.Generator, draws: int) -> Array:
    """A baseline's draws (L, N); a lane that has finished or is out is as certain to it as to the forecast."""
    drawn = np.array([with_error(point, asked.now_ms, error, rng, draws) for point in points])
    for row, runner in enumerate(asked.runners):
        if runner.finish_ms is not None:
            drawn[row] = runner.finish_ms
        if runner.out:
            drawn[row] = np.inf
    return drawn


def _crps(drawn: Array, truth: float) -> float:
    """The CRPS of the finish, given that there is one; a forecast that says there will be none is 10,000 s off."""
    if not np.isfinite(truth):
        return 0.0
    finite = drawn[np.isfinite(drawn)]
    return crps(finite, truth) if len(finite) else 1e7


def _passed(heat: MadeHeat, trail: Trail, work: float) -> int | None:
    return next((at_ms for at_ms, done in trail if work_ms(heat.plan, done) >= work), None)


def _cut(trail: Trail, now_ms: int) -> Trail:
    return [fact for fact in trail if fact[0] <= now_ms]
