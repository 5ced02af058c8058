"""A recorded heat of Breakwater read by hand: plain JSON lines, counted without the package that is tested with it."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

Line = Mapping[str, Any]
Course = list[tuple[int, int]]
"""(at_ms, units done) whenever the count of a lane changed, in order."""

CAP_MS = 13 * 60 * 1000
ROUNDS = 4
WALKS, PRESSES, METRES, JUMPS = 3, 12, 48, 15
ENDS = (WALKS, WALKS + PRESSES, WALKS + PRESSES + METRES, WALKS + PRESSES + METRES + JUMPS)
"""Units done at the end of each station of a round; the 48 metres count as one scored rep."""
ROUND_UNITS = ENDS[-1]
ALL_UNITS = ROUNDS * ROUND_UNITS
ROUND_SCORED = WALKS + PRESSES + 1 + JUMPS
ALL_SCORED = ROUNDS * ROUND_SCORED


def lines_of(path: Path) -> list[Line]:
    """Give the lines of a recording as plain data."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def of_kind(lines: Iterable[Line], *kinds: str) -> list[Line]:
    """Give the lines of these kinds."""
    return [line for line in lines if line["fact"] in kinds]


def by_lane(lines: Iterable[Line]) -> dict[int, list[Line]]:
    """Give the lines about each lane, lanes in order."""
    lanes: defaultdict[int, list[Line]] = defaultdict(list)
    for line in lines:
        if "lane" in line:
            lanes[line["lane"]].append(line)
    return dict(sorted(lanes.items()))


def scored(units: int) -> int:
    """Turn units done into scored reps by hand: 31 a round, the metres worth one when all of them are done."""
    rounds, rest = divmod(units, ROUND_UNITS)
    before_the_block, after_it = ENDS[1], ENDS[2]
    block = 1 if rest >= after_it else 0
    return 31 * rounds + min(rest, before_the_block) + block + max(0, rest - after_it)


def units_for(scored_reps: int) -> int:
    """Turn scored reps into the fewest units that are worth them."""
    return next(units for units in range(ALL_UNITS + 1) if scored(units) == scored_reps)


def course(lines: Iterable[Line], lane: int) -> Course:
    """Count one lane by hand, up to the time cap, without what was voided."""
    mine = by_lane(lines)[lane]
    struck = {line["voids"] for line in of_kind(mine, "fact_voided")}
    done, counted = 0, []
    for line in mine:
        if line["id"] in struck or line["at_ms"] > CAP_MS:
            continue
        if line["fact"] == "rep_counted":
            done += line.get("n", 1)
        elif line["fact"] == "block_completed":
            done += ENDS[2] - done % ROUND_UNITS
        elif line["fact"] == "count_corrected":
            done = units_for(line["scored_reps"])
        else:
            continue
        counted.append((line["at_ms"], done))
    return counted


def courses(lines: Iterable[Line]) -> dict[int, Course]:
    """Count every lane by hand."""
    kept = list(lines)
    return {lane: course(kept, lane) for lane in by_lane(kept)}


def reached_ms(walked: Course, units: int) -> int | None:
    """Tell when a lane had so many units, or None."""
    return next((at_ms for at_ms, done in walked if done >= units), None)


def round_times(walked: Course) -> list[int]:
    """Give how long each complete round took."""
    ends = [reached_ms(walked, ROUND_UNITS * number) for number in range(ROUNDS + 1)]
    reached = [0] + [end for end in ends[1:] if end is not None]
    return [after - before for before, after in pairwise(reached)]


def leaders(lines: Iterable[Line]) -> list[int]:
    """Name the leader after each change: most scored reps, first to have them among equals."""
    seen: list[int] = []
    best: dict[int, tuple[int, int]] = {}
    moves = sorted(
        (at_ms, lane, scored(done)) for lane, walked in courses(lines).items() for at_ms, done in walked if done
    )
    for at_ms, lane, reps in moves:
        if reps > -best.get(lane, (0, 0))[0]:
            best[lane] = (-reps, at_ms)
            leader = min(best, key=lambda each: best[each])
            if not seen or seen[-1] != leader:
                seen.append(leader)
    return seen


def taps_in_station(lines: Iterable[Line], lane: int, station: int) -> Iterator[list[int]]:
    """Give, round by round, the times of the taps inside a station (1 to 4) that was completed."""
    walked = course(lines, lane)
    first = 0 if station == 1 else ENDS[station - 2]
    for before in range(0, ALL_UNITS, ROUND_UNITS):
        low, high = before + first, before + ENDS[station - 1]
        times = [at_ms for at_ms, done in walked if low < done <= high]
        if reached_ms(walked, high) is not None:
            yield times
