"""What a person with a stopwatch would say: two point forecasts, and the same with their usual error around them.

Both see what the forecast sees. `constant_pace` goes on at the mean pace so far; `last_round_pace` at that of the last
complete round (of the last quarter of the work where there is a single round), and at the mean pace before there is
one. Work is counted in the organiser's expected time.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np

from forecast.generators import Array
from tallywire.core.gaps.gaps import work_ms
from tallywire.core.model.workout import Plan

Trail = Sequence[tuple[int, int]]


def constant_pace(plan: Plan, trail: Trail, now_ms: int) -> float:
    """Last fact's time × whole work / work done then; the expected time before the first fact."""
    whole = work_ms(plan, plan.total_done or 0)
    if not trail:
        return float(max(whole, now_ms))
    at_ms, done = trail[-1]
    return max(now_ms, at_ms * whole / work_ms(plan, done))


def last_round_pace(plan: Plan, trail: Trail, now_ms: int) -> float:
    """Last fact's time + work left at the pace of the last round."""
    if not trail:
        return constant_pace(plan, trail, now_ms)
    at_ms, done = trail[-1]
    whole = work_ms(plan, plan.total_done or 0)
    ends = _round_ends(plan)
    passed = [end for end in ends if end <= done]
    if not passed:
        return constant_pace(plan, trail, now_ms)
    before = ends[ends.index(passed[-1]) - 1] if len(passed) > 1 else 0
    took = _passed(trail, passed[-1]) - _passed(trail, before)
    pace = took / (work_ms(plan, passed[-1]) - work_ms(plan, before))
    return max(now_ms, at_ms + (whole - work_ms(plan, done)) * pace)


BASELINES = {"constant pace": constant_pace, "last-round pace": last_round_pace}


def with_error(point: float, now_ms: int, error: float, rng: np.random.Generator, draws: int) -> Array:
    """Draw around a point forecast: a normal error, as a share of the time it leaves, cut off at now."""
    left = max(point - now_ms, 1000.0)
    return np.maximum(now_ms, point + left * error * rng.standard_normal(draws))


def _round_ends(plan: Plan) -> list[int]:
    last = {leg.round: leg.done_after for leg in plan.legs}
    if len(last) > 1:
        return sorted(last.values())
    work = [work_ms(plan, leg.done_after) / work_ms(plan, plan.lap_done) for leg in plan.legs]
    return sorted({plan.legs[bisect_right(work, quarter - 1e-9)].done_after for quarter in (0.25, 0.5, 0.75, 1.0)})


def _passed(trail: Trail, done: int) -> int:
    return next((at_ms for at_ms, reached in trail if reached >= done), 0) if done else 0
