"""The demo heat counted a second time, from the lines of its recording alone: no module of the program is used."""

from __future__ import annotations

import json
import tomllib
from functools import cache, cached_property
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any

SCENARIOS = Path(__file__).parents[2] / "scenarios"
UNITS = (3, 12, 48, 15)
EXPECTED_S = (29, 30, 50, 40)
ROUND, ROUNDS, CAP_MS = sum(UNITS), 4, 780_000
ROUND_REPS = 31
ALL_REPS = 124
BEFORE_THE_BLOCK, AFTER_THE_BLOCK = 15, 63
WORTH = (150, 138, 128, 119, 111, 104, 97, 91, 85, 79, 74, 69, 64, 60, 56, 52, 48, 45, 42, 39)
"""What the places are worth, as the head of the competition file has it."""
Line = dict[str, Any]


def reps_of(done: int) -> int:
    """Scored reps of so many units: a round is three, twelve, a block of 48 metres credited as one, and fifteen."""
    rounds, left = divmod(done, ROUND)
    reps = ROUND_REPS * rounds + min(left, BEFORE_THE_BLOCK) + (left >= AFTER_THE_BLOCK)
    return reps + max(0, left - AFTER_THE_BLOCK)


def work_s(done: int) -> float:
    """Expected seconds of so many units."""
    rounds, left = divmod(done, ROUND)
    total = float(rounds * sum(EXPECTED_S))
    for units, seconds in zip(UNITS, EXPECTED_S, strict=True):
        part = min(left, units)
        total += seconds * part / units
        left -= part
    return total


class RawLane:
    """One lane up to a moment."""

    def __init__(self, lines: list[Line], lane: int, clock_ms: int) -> None:
        struck = {line["voids"] for line in lines if line["fact"] == "fact_voided" and line["at_ms"] <= clock_ms}
        own = [line for line in lines if line.get("lane") == lane and line["at_ms"] <= min(clock_ms, CAP_MS)]
        self.lane, self.clock_ms = lane, clock_ms
        self.passed: dict[int, int] = {0: 0}
        self.done = 0
        for line in sorted(own, key=lambda line: (line["at_ms"], line["sender"], line["sequence"])):
            if line["id"] not in struck:
                self._take(line)
        self.no_reps_ms = [line["at_ms"] for line in own if line["fact"] == "no_rep_called"]
        self.withdrawn = any(line["fact"] == "withdrawn" for line in own)
        calls = [line["at_ms"] for line in own if line["fact"] == "finished"]
        self.finish_ms = min(calls) if calls and self.done == ROUNDS * ROUND else None

    @property
    def reps(self) -> int:
        """Scored reps."""
        return reps_of(self.done)

    @property
    def key(self) -> tuple[int, int, int]:
        """Home by time, then by reps and the end of round three, then who stopped."""
        if self.withdrawn:
            return (2, 0, 0)
        if self.finish_ms is not None:
            return (0, self.finish_ms, 0)
        return (1, -self.reps, self.passed.get(3 * ROUND, 10**9))

    def station_ms(self, number: int, station: int) -> list[int]:
        """When each unit of a station of a round was counted."""
        begin = (number - 1) * ROUND + sum(UNITS[: station - 1])
        return [self.passed[done] for done in range(begin + 1, begin + UNITS[station - 1] + 1) if done in self.passed]

    def _take(self, line: Line) -> None:
        before, fact = self.done, line["fact"]
        if fact == "rep_counted":
            self.done += line.get("n", 1)
        elif fact == "block_completed":
            self.done = self.done // ROUND * ROUND + AFTER_THE_BLOCK
        elif fact == "count_corrected":
            rounds, left = divmod(line["scored_reps"], ROUND_REPS)
            self.done = rounds * ROUND + (left if left <= BEFORE_THE_BLOCK else left - 1 + UNITS[2])
        if self.done != before:
            self.passed[self.done] = line["at_ms"]


@cache
def _recorded() -> list[Line]:
    text = (SCENARIOS / "saltmarsh-women-2.ndjson").read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines()]


@cache
def _competition_file() -> dict[str, Any]:
    return tomllib.loads((SCENARIOS / "saltmarsh.toml").read_text(encoding="utf-8"))


class RawHeat:
    """The heat up to a moment."""

    def __init__(self, clock_ms: int) -> None:
        self.lines, file = _recorded(), _competition_file()
        heat = next(each for each in file["heat"] if each["id"] == "women-2")
        entries = {each["id"]: each for each in file["entry"]}
        self.clock_ms = clock_ms
        self.entries = {int(lane): entries[entry] for lane, entry in heat["lanes"].items()}
        self.others = [
            each for each in file["entry"] if each["division"] == "women" and each not in self.entries.values()
        ]
        self.lanes = {lane: RawLane(self.lines, lane, clock_ms) for lane in self.entries}

    def lane(self, short: str) -> RawLane:
        """Give the lane of a short name."""
        return next(self.lanes[lane] for lane, entry in self.entries.items() if entry["short"] == short)

    def name(self, lane: RawLane) -> str:
        """Give the short name on a lane."""
        return str(self.entries[lane.lane]["short"])

    @cached_property
    def places(self) -> dict[int, int]:
        """Places in the heat by lane."""
        keys = {lane: each.key for lane, each in self.lanes.items()}
        return {lane: 1 + sum(other < key for other in keys.values()) for lane, key in keys.items()}

    @cached_property
    def totals(self) -> dict[str, int]:
        """Overall points as it stands, by short name: 150, 138, 128 … for the places, nothing for those who stopped."""
        gained = {lane: 0 if each.withdrawn else WORTH[self.places[lane] - 1] for lane, each in self.lanes.items()}
        return {entry["short"]: entry["points_before"] + gained[lane] for lane, entry in self.entries.items()}


def in_one_set(times_ms: list[int]) -> bool:
    """No pause longer than two and a half usual ones and a second and a half more than one."""
    pauses = [later - earlier for earlier, later in pairwise(times_ms)]
    usual = median(pauses)
    return max(pauses) <= max(2.5 * usual, usual + 1500)
