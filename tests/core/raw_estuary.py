"""Heats of the Estuary Trials counted a second time, from the lines of their recordings alone: no module of the
program is used. Rules as docs/scoring.md and scenarios/estuary.toml have them."""

from __future__ import annotations

import json
import tomllib
from abc import ABC, abstractmethod
from pathlib import Path
from typing import Any

SCENARIOS = Path(__file__).parents[2] / "scenarios"
POINTS = (100, 90, 80, 70)
LANES = (1, 2, 3, 4)
ATTEMPTS = 3
WINDOW_MS, BARS, LIFTS = 60_000, 5, 2
WORK_MS, PIECE_MS, PIECES = 60_000, 90_000, 3
SHUTTLES = 8
Line = dict[str, Any]


class RawEstuary(ABC):
    """One heat up to a moment of its clock."""

    def __init__(self, heat: str, clock_ms: int) -> None:
        text = (SCENARIOS / f"estuary-{heat}.ndjson").read_text(encoding="utf-8")
        self.heat, self.clock_ms = heat, clock_ms
        self.lines: list[Line] = [line for line in map(json.loads, text.splitlines()) if line["at_ms"] <= clock_ms]
        assert not any(line["fact"] in ("fact_voided", "count_corrected") for line in self.lines)
        file = tomllib.loads((SCENARIOS / "estuary.toml").read_text(encoding="utf-8"))
        entries = {each["id"]: each["name"] for each in file["entry"]}
        lanes = next(each["lanes"] for each in file["heat"] if each["id"] == heat)
        self.names = {int(lane): entries[entry] for lane, entry in lanes.items()}

    def of(self, lane: int, *facts: str) -> list[Line]:
        """The lane's lines of these facts."""
        return [line for line in self.lines if line.get("lane") == lane and line["fact"] in facts]

    def lane(self, name: object) -> int:
        """The lane of a name."""
        return next(lane for lane, each in self.names.items() if each == name)

    @abstractmethod
    def keys(self) -> dict[int, Any]:
        """What sorts the lanes, smaller is better."""

    @property
    @abstractmethod
    def settled(self) -> bool:
        """Whether no lane can change anything any more."""

    @property
    def places(self) -> dict[int, int]:
        """Places in the heat, the better one shared."""
        keys = self.keys()
        return {lane: 1 + sum(other < keys[lane] for other in keys.values()) for lane in LANES}


class RawLifts(RawEstuary):
    """Three attempts each; the heaviest good lift counts."""

    def judged(self, lane: int) -> list[tuple[int, int, bool]]:
        """(judged at, load, good) of each attempt."""
        loads = [line["load_milli"] for line in self.of(lane, "attempt_declared")]
        calls = self.of(lane, "attempt_made", "attempt_failed")
        return [(call["at_ms"], load, call["fact"] == "attempt_made") for call, load in zip(calls, loads, strict=False)]

    def open_milli(self, lane: int) -> int | None:
        """The load of a declared attempt that is not judged yet."""
        declared = self.of(lane, "attempt_declared")
        return declared[-1]["load_milli"] if len(declared) > len(self.judged(lane)) else None

    def best(self, lane: int) -> int:
        """The heaviest good lift."""
        return max((load for _, load, good in self.judged(lane) if good), default=0)

    def left(self, lane: int) -> int:
        """Attempts not judged yet."""
        return ATTEMPTS - len(self.judged(lane))

    def keys(self) -> dict[int, Any]:
        """More is better."""
        return {lane: -self.best(lane) for lane in LANES}

    @property
    def settled(self) -> bool:
        """All attempts are judged."""
        return not any(self.left(lane) for lane in LANES)


class RawLadder(RawEstuary):
    """Two lifts a bar, a minute a bar; out when a window closes on an open bar."""

    def done(self, lane: int) -> int:
        """Good lifts that count."""
        good = 0
        for line in self.of(lane, "attempt_made"):
            bar = good // LIFTS
            if line["at_ms"] <= (bar + 1) * WINDOW_MS:
                good += 1
        return good

    def bars(self, lane: int) -> int:
        """Whole bars."""
        return self.done(lane) // LIFTS

    def out_ms(self, lane: int) -> int | None:
        """When the window of the open bar closed."""
        closes_ms = (self.bars(lane) + 1) * WINDOW_MS
        return closes_ms if self.bars(lane) < BARS and closes_ms <= self.clock_ms else None

    def load(self, bar: int) -> str:
        """The load of a bar, counted from 1."""
        return f"{50 + 10 * bar} kg"

    def keys(self) -> dict[int, Any]:
        """More lifts are better."""
        return {lane: -self.done(lane) for lane in LANES}

    @property
    def settled(self) -> bool:
        """Nobody is in."""
        return all(self.out_ms(lane) is not None for lane in LANES)


class RawPieces(RawEstuary):
    """Three pieces of a minute, half a minute of rest."""

    def taps(self, lane: int, piece: int) -> list[int]:
        """When each unit of a piece (from 1) was counted, from the start of the piece."""
        begin_ms = (piece - 1) * PIECE_MS
        times = [line["at_ms"] - begin_ms for line in self.of(lane, "rep_counted")]
        assert all(line.get("n", 1) == 1 for line in self.of(lane, "rep_counted"))
        return [at_ms for at_ms in times if 0 <= at_ms <= WORK_MS]

    def lowest(self, lane: int, pieces: int) -> int:
        """The lowest count of the first so many pieces."""
        return min(len(self.taps(lane, piece)) for piece in range(1, pieces + 1))

    def closed(self) -> int:
        """Pieces whose window has closed."""
        return sum(self.clock_ms >= (piece - 1) * PIECE_MS + WORK_MS for piece in range(1, PIECES + 1))

    def keys(self) -> dict[int, Any]:
        """A higher lowest count is better."""
        return {lane: -self.lowest(lane, self.closed()) for lane in LANES}

    @property
    def settled(self) -> bool:
        """The last window has closed."""
        return self.closed() == PIECES


class RawSprints(RawPieces):
    """Timed pieces of eight: more completed pieces are better, then less time in all."""

    def time_ms(self, lane: int, piece: int) -> int | None:
        """How long a piece took; None while it is not complete."""
        taps = self.taps(lane, piece)
        return taps[SHUTTLES - 1] if len(taps) >= SHUTTLES else None

    def total_ms(self, lane: int, pieces: int) -> int:
        """The time of the first so many pieces, all complete."""
        times = [self.time_ms(lane, piece) for piece in range(1, pieces + 1)]
        return sum(each for each in times if each is not None) if None not in times else 10**9

    def keys(self) -> dict[int, Any]:
        """Less time is better."""
        return {lane: self.total_ms(lane, PIECES) for lane in LANES}

    @property
    def settled(self) -> bool:
        """Everybody is home."""
        return all(self.total_ms(lane, PIECES) < 10**9 for lane in LANES)

    def nobody_can_pass(self, total_ms: int, *, than: set[int]) -> bool:
        """Whether all but `than` are home later or have used up more time already."""
        begun_ms = (PIECES - 1) * PIECE_MS
        used = [
            min(self.total_ms(lane, PIECES), self.total_ms(lane, PIECES - 1) + self.clock_ms - begun_ms)
            for lane in LANES
            if lane not in than
        ]
        return all(each > total_ms for each in used)


RAW: dict[str, type[RawEstuary]] = {
    "anchor": RawLifts,
    "lock-ladder": RawLadder,
    "tides": RawPieces,
    "sprints": RawSprints,
}
