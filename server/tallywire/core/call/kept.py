"""What the forecast said at every full minute of a heat, as plain data: kept while it runs, compared afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

from tallywire.core.call.steps import Sight
from tallywire.core.forecast.answer import Forecast, LaneForecast, Spread

EVERY_MS = 60_000
MEASURES = ("finish_ms", "reps", "load")
Line = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidThen:
    """What was said at a time of a heat that began with the fact `start`: by lane, each measure and the chance to make
    the cap."""

    heat: str
    start: str
    at_ms: int
    said: Mapping[int, Mapping[str, Spread]]
    inside_cap: Mapping[int, float]


Mark = tuple[str, str, int]
"""A heat, the fact that started it, and the number of a full minute on its clock."""


def mark_of(sight: Sight) -> Mark | None:
    """Give the mark that a heat has come to; None before its start and after its end."""
    state = sight.state
    if state.started is None or state.over:
        return None
    return state.heat.id, state.started.id, sight.clock_ms // EVERY_MS


def measures(lane: LaneForecast) -> dict[str, Spread]:
    """Give what of a lane's forecast can be compared with its result."""
    found = {"finish_ms": lane.finish_ms, "reps": lane.scored_reps, "load": lane.own.get("load")}
    return {name: spread for name, spread in found.items() if spread is not None}


def kept_line(sight: Sight, outlook: Forecast) -> Line:
    """Give what is kept of a forecast, for JSON: [low, median, high] of four in five, None for an end that never comes.

    Raises ValueError for a heat that has not started.
    """
    mark = mark_of(sight)
    if mark is None:
        raise ValueError(f"found heat {sight.state.heat.id} not running, expected one that runs")
    lanes = {}
    for number, lane in outlook.lanes.items():
        said = {name: _ends(spread) for name, spread in measures(lane).items()}
        chance = {} if lane.inside_cap is None else {"inside_cap": round(lane.inside_cap, 4)}
        lanes[str(number)] = said | chance
    return {"heat": mark[0], "start": mark[1], "at_ms": sight.clock_ms, "lanes": lanes}


def kept_of(line: Line) -> SaidThen:
    """Read such a line. Raises KeyError, TypeError or ValueError for anything else."""
    lanes = {int(number): lane for number, lane in line["lanes"].items()}
    return SaidThen(
        heat=str(line["heat"]),
        start=str(line["start"]),
        at_ms=int(line["at_ms"]),
        said={
            number: {name: _spread(*lane[name]) for name in MEASURES if name in lane} for number, lane in lanes.items()
        },
        inside_cap={number: float(lane["inside_cap"]) for number, lane in lanes.items() if "inside_cap" in lane},
    )


def newest(kept: Iterable[SaidThen], mark: tuple[str, str], at_ms: int) -> SaidThen | None:
    """Give the newest of a heat and its start up to a time; of several at one time the first."""
    found = [each for each in kept if (each.heat, each.start) == mark and each.at_ms <= at_ms]
    return max(found, key=lambda each: each.at_ms, default=None)


def _ends(spread: Spread) -> list[float | None]:
    low, high = spread.four_in_five
    return [round(value, 1) if isfinite(value) else None for value in (low, spread.median, high)]


def _spread(*ends: float | None) -> Spread:
    low, median, high = (inf if each is None else float(each) for each in ends)
    return Spread(median=median, intervals={80: (low, high)})
