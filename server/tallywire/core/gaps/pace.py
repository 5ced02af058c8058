"""Pace: splits, rate, sets and rests, fade and no-rep rate of a lane, from its tally.

Times are integer milliseconds. A station credited as one block has a split and nothing inside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from statistics import median

from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Tally
from tallywire.core.formats.counting import judged_trail
from tallywire.core.model.workout import Leg, Plan

RATE_UNITS = 5
"""The present rate looks at the last five units."""
_STATIONS = 4096
"""So many stations are kept as they were read: those of some heats of twenty. A complete one does not change."""
REST_FACTOR = 2.5
REST_FLOOR_MS = 1500
"""A pause is a rest when it is longer than 2.5 usual intervals of the station and at least 1.5 s above one
(common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LegSplit:
    """One station of one round. `unit_ms` are the heat clocks of the facts in it; `end_ms` is None while in progress.

    `transition_ms` is the time from the end of the station before to the first fact, less the usual interval; None
    where fewer than three facts show one.
    """

    round: int
    number: int
    start_ms: int
    end_ms: int | None
    unit_ms: tuple[int, ...]
    transition_ms: int | None

    @property
    def split_ms(self) -> int | None:
        """The time the station took, its transition included; None while in progress."""
        return None if self.end_ms is None else self.end_ms - self.start_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkSet:
    """Units done without a rest. `rest_ms` is the rest after it; None for the last set of a station."""

    units: int
    start_ms: int
    end_ms: int
    rest_ms: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fade:
    """A round's split over the lane's own first round (1.08 = 8 % slower), and over what the field's median is."""

    round: int
    own: float
    against_field: float | None


def leg_splits(plan: Plan, tally: Tally, *, start_ms: int = 0) -> list[LegSplit]:
    """Give every station begun, in order; `start_ms` is the heat clock at the start. The last ends at the finish."""
    trail = judged_trail(plan, tally)
    splits: list[LegSplit] = []
    taken, began_ms, begin = 0, start_ms, 0
    while True:
        lap, leg = plan.leg_at(begin)
        end = lap * plan.lap_done + leg.done_after
        inside = taken
        while inside < len(trail) and trail[inside][1] <= end:
            inside += 1
        facts = trail[taken:inside]
        ended_ms = _ended(trail, inside, end)
        number = lap * plan.rounds_a_lap + leg.round
        splits.append(_leg_split(number, leg.number, (began_ms, ended_ms), tuple([at_ms for at_ms, _ in facts])))
        if ended_ms is None or end == plan.total_done:
            return splits
        taken, began_ms, begin = inside, ended_ms, end


def lane_splits(plan: Plan, lane: LaneState, *, start_ms: int = 0) -> list[LegSplit]:
    """Give every station that a lane has begun; they are kept with its work."""
    kept: tuple[int, list[LegSplit]] | None = lane.kept_of_work.get("splits")
    if kept is None or kept[0] != start_ms:
        kept = lane.kept_of_work["splits"] = (start_ms, leg_splits(plan, lane.tally, start_ms=start_ms))
    return kept[1]


def round_splits(plan: Plan, splits: Sequence[LegSplit]) -> dict[int, int]:
    """Give the time of every complete round, by its number."""
    last = {leg.round: leg.number for leg in plan.legs}
    found: dict[int, int] = {}
    began_ms = splits[0].start_ms
    for split in splits:
        if split.end_ms is not None and split.number == last[(split.round - 1) % plan.rounds_a_lap + 1]:
            found[split.round] = split.end_ms - began_ms
            began_ms = split.end_ms
    return found


def rate_now(tally: Tally, clock_ms: int, *, units: int = RATE_UNITS) -> float | None:
    """Units a minute over the last `units` units up to the clock, so that it falls while nothing comes.

    It is None before there are two facts.
    """
    if len(tally.trail) < 2:
        return None
    wanted = tally.done - units
    at_ms, done = next((fact for fact in reversed(tally.trail[:-1]) if fact[1] <= wanted), tally.trail[0])
    span_ms = max(clock_ms, tally.trail[-1][0]) - at_ms
    return None if span_ms <= 0 else 60_000 * (tally.done - done) / span_ms


@lru_cache(maxsize=_STATIONS)
def work_sets(split: LegSplit) -> tuple[WorkSet, ...]:
    """Split the units of a station into sets by its rests. A fact of several units counts as one unit."""
    times = split.unit_ms
    if not times:
        return ()
    pauses = [later - earlier for earlier, later in pairwise(times)]
    usual = median(pauses) if pauses else 0
    longest = max(REST_FACTOR * usual, usual + REST_FLOOR_MS)
    breaks = [place for place, pause in enumerate(pauses) if pause > longest]
    begins, ends = [0, *(place + 1 for place in breaks)], [*breaks, len(times) - 1]
    rests = [*(pauses[place] for place in breaks), None]
    return tuple(
        WorkSet(units=end - begin + 1, start_ms=times[begin], end_ms=times[end], rest_ms=rest)
        for begin, end, rest in zip(begins, ends, rests, strict=True)
    )


def unbroken(split: LegSplit, leg: Leg) -> bool:
    """Tell whether a complete station of more than one unit, counted one by one, was done in a single set."""
    counted = len(split.unit_ms) == leg.station.amount > 1
    return split.end_ms is not None and counted and len(work_sets(split)) == 1


def usual_slowing(field: Sequence[Mapping[int, int]]) -> dict[int, float]:
    """Give the median, over a field's round splits by number, of each round over the first; without the unmeasured."""
    ratios: dict[int, list[float]] = {}
    for each in field:
        for number, split in each.items() if each.get(1) else ():
            if split:
                ratios.setdefault(number, []).append(split / each[1])
    return {number: median(found) for number, found in ratios.items()}


def fades(own: Mapping[int, int], usual: Mapping[int, float] | None = None) -> list[Fade]:
    """Compare every later round with the first; `own` are round splits (of equal rounds) by number, `usual` is what
    `usual_slowing` gives of the field.

    `against_field` is the own ratio over the usual one of the same round, None where nobody has one. A round in which
    one fact went past both its ends was not measured, and is left out.
    """
    if not own.get(1):
        return []
    found = []
    for number, split in sorted(each for each in own.items() if each[1]):
        ratio, others = split / own[1], (usual or {}).get(number)
        found.append(Fade(round=number, own=ratio, against_field=ratio / others if others else None))
    return found[1:]


def no_rep_rate(tally: Tally) -> float:
    """The share of attempts that were no-reps: no-reps over no-reps and facts that counted; 0 before any attempt."""
    attempts = tally.no_reps + len(tally.trail)
    return tally.no_reps / attempts if attempts else 0.0


def _ended(trail: Sequence[tuple[int, int]], inside: int, end: int) -> int | None:
    """When the station ended: at its last fact, or at the fact of several units that went past its end."""
    if inside and trail[inside - 1][1] == end:
        return trail[inside - 1][0]
    return trail[inside][0] if inside < len(trail) else None


@lru_cache(maxsize=_STATIONS)
def _leg_split(number: int, station: int, span: tuple[int, int | None], times: tuple[int, ...]) -> LegSplit:
    began_ms, ended_ms = span
    first = times[0] - began_ms if times else None
    pauses = [later - earlier for earlier, later in pairwise(times)]
    transition = None if first is None or len(pauses) < 2 else max(0, round(first - median(pauses)))
    return LegSplit(
        round=number,
        number=station,
        start_ms=began_ms,
        end_ms=ended_ms,
        unit_ms=times,
        transition_ms=transition,
    )
