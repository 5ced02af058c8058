"""The forecast of a heat, of its event and of the standing after it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate

import numpy as np

from tallywire.core.forecast.answer import DRAWS, Forecast, LaneForecast, Spread
from tallywire.core.forecast.draws import Indexes, Singles
from tallywire.core.forecast.ends import Ends, stands
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.forecast.standing import Chances, Flags, chances

_QUANTILES = (0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975)


def forecast(scene: Scene, *, seed: int, draws: int = DRAWS) -> Forecast:
    """Forecast a heat. The same scene, seed and number of draws give the same answer.

    For a format without a model the places are the present ones, for certain, and nothing else is forecast.
    """
    model = model_of(scene.plan.workout)
    ends = model.play(scene, seed=seed, draws=draws) if scene.runners else stands(scene)
    return Forecast(
        lanes=_lanes(scene, ends, chances(scene, ends.keys, unpaid=_unpaid(scene, ends), part_keys=ends.part_keys)),
        learned=None if ends.learned is None else ends.learned.fit.field,
        log_pace=_log_pace(scene.runners, ends),
    )


def _unpaid(scene: Scene, ends: Ends) -> Flags | None:
    worked = ends.scored_reps if ends.worked is None else ends.worked
    return None if not scene.least or worked is None else worked < scene.least


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    """The draws of all lanes, which are summed up row by row; None for what the work does not have."""

    finishes: Sequence[Spread] | None
    inside: Sequence[float] | None
    counts: Sequence[Spread] | None
    own: Mapping[str, Sequence[Spread]]

    @classmethod
    def of(cls, scene: Scene, ends: Ends) -> _Columns:
        """Sum up. Work without an end has no finish."""
        timed = scene.plan.total_done is not None
        finish_ms, inside = (ends.finish_ms, ends.inside) if timed else (None, None)
        return cls(
            finishes=None if finish_ms is None else _spreads(finish_ms),
            inside=None if inside is None else [int(np.count_nonzero(row)) / len(row) for row in inside],
            counts=None if ends.scored_reps is None else _count_spreads(ends.scored_reps),
            own={name: _spreads(values, whole=not name.endswith("_ms")) for name, values in ends.own.items()},
        )


def _lanes(scene: Scene, ends: Ends, chance: Chances) -> dict[int, LaneForecast]:
    columns = _Columns.of(scene, ends)
    worth = {division: _worth(scene, division) for division in {runner.division for runner in scene.runners}}
    return {
        runner.lane: LaneForecast(
            lane=runner.lane,
            entry=runner.entry,
            finish_ms=None if columns.finishes is None or runner.out else columns.finishes[row],
            inside_cap=None if columns.inside is None else columns.inside[row],
            scored_reps=None if columns.counts is None else columns.counts[row],
            own={name: spreads[row] for name, spreads in columns.own.items()},
            heat_places=chance.heat[row],
            event_places=_given(
                chance.event[row], sorted(place for own, place in scene.vacant if own == runner.division)
            ),
            points=_points(scene, worth[runner.division], chance, row),
            overall_places=chance.overall[row],
        )
        for row, runner in enumerate(scene.runners)
    }


def _given(chances: tuple[float, ...], vacant: Sequence[int]) -> tuple[float, ...]:
    """The chances of places by their number: none for a vacant one, behind which the others move down."""
    found = list(chances)
    for place in vacant:
        if place <= len(found):
            found.insert(place - 1, 0.0)
    return tuple(found)


def _spreads(values: Singles, *, whole: bool = False) -> list[Spread]:
    """Median and intervals of every row; order statistics, so that an infinite value never mixes with a finite one.

    `whole` says that they come in steps, so that a range may hold more than its level.
    """
    last = values.shape[1] - 1
    ordered = np.sort(values, axis=1)
    ends = ordered[:, [round(q * last) for q in _QUANTILES]]
    rows = ends.astype(float).tolist()
    if not whole:
        return [_spread(row) for row in rows]
    held = np.greater_equal(values, ends[:, 1:2]) & np.less_equal(values, ends[:, 5:6])
    shares = np.count_nonzero(held, axis=1) / values.shape[1]
    return [_spread(row, holds=share) for row, share in zip(rows, shares.tolist(), strict=True)]


def _count_spreads(counts: Singles) -> list[Spread]:
    """The spreads of whole counts: to count how often each comes up is quicker than to sort them."""
    ranks = np.array([round(q * (counts.shape[1] - 1)) for q in _QUANTILES])
    return [_count_spread(row, ranks) for row in counts]


def _count_spread(row: Singles, ranks: Indexes) -> Spread:
    top, draws = row.max(), len(row)
    tops = int(np.count_nonzero(row == top))
    if draws - tops <= ranks[0]:  # all but sure to do all the work: every rank falls among those who do
        return _spread([float(top)] * len(ranks), holds=tops / draws)
    up_to = np.bincount(row.astype(np.intp)).cumsum()
    ends = up_to.searchsorted(ranks, side="right").tolist()
    held = int(up_to[ends[5]]) - (int(up_to[ends[1] - 1]) if ends[1] else 0)
    return _spread([float(end) for end in ends], holds=held / draws)


def _worth(scene: Scene, division: str) -> tuple[float, ...]:
    """What each place earns in a division, by the division's own field where its standing is known."""
    overall = scene.overall.get(division)
    found = scene.worth if overall is None else overall.parts[0].points[overall.parts[0].level[1:, 1]].tolist()
    return tuple(map(float, found))


@lru_cache(maxsize=64)
def _by_worth(worth: tuple[float, ...], size: int) -> tuple[list[int], list[float]]:
    """The numbers from 0 on of so many places, those that earn the least first, and what they earn."""
    earned = sorted((worth[place] if place < len(worth) else 0.0, place) for place in range(size))
    return [place for _, place in earned], [each for each, _ in earned]


def _points(scene: Scene, worth: tuple[float, ...], chance: Chances, row: int) -> Spread:
    """The spread of the points: as drawn, or from the chances of the places, whichever way the table goes."""
    runner = scene.runners[row]
    if row in chance.points:
        return _spreads(chance.points[row][None, :])[0]
    if runner.out:
        return _spread([_nothing(scene, runner.division)] * len(_QUANTILES))
    shares = chance.event[row]
    order, earned = _by_worth(worth, len(shares))
    rising = list(accumulate([shares[place] for place in order]))
    return _spread([earned[bisect_left(rising, q - 1e-9, hi=len(earned) - 1)] for q in _QUANTILES])


def _nothing(scene: Scene, division: str) -> float:
    """What the event gives to an entry without a result: something only where the fewest points win."""
    overall = scene.overall.get(division)
    return 0.0 if overall is None else overall.parts[0].nothing


def _spread(row: Sequence[float], *, holds: float | None = None) -> Spread:
    return Spread(
        median=row[3],
        intervals={50: (row[2], row[4]), 80: (row[1], row[5]), 95: (row[0], row[6])},
        holds=holds,
    )


def _log_pace(runners: Sequence[Runner], ends: Ends) -> dict[str, tuple[float, float]]:
    if ends.learned is None:
        return {}
    fitted, z = ends.learned.fit, ends.learned.z.mean(axis=1)
    means = (z * fitted.mean).sum(axis=1)
    sds = fitted.field.noise * np.sqrt(((z[:, None] @ fitted.spread)[:, 0] * z).sum(axis=1))
    levels = zip(runners, means.tolist(), sds.tolist(), strict=True)
    return {runner.entry: (mean, sd) for runner, mean, sd in levels}
