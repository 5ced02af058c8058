"""Small competitions and facts for the core's tests, made by plain functions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import count
from random import Random

import pytest
from _pytest.mark import ParameterSet
from hypothesis import strategies as st

from tallywire.core.facts import (
    AttemptDeclared,
    AttemptFailed,
    AttemptMade,
    BlockCompleted,
    CountCorrected,
    Exchanged,
    Fact,
    FactVoided,
    Finished,
    HeatCalled,
    HeatEnded,
    HeatRecalled,
    HeatSigned,
    HeatStarted,
    LaneFact,
    NoRepCalled,
    RepCounted,
    Withdrawn,
)
from tallywire.core.model.competition import Competition, Division, Entry, Event, FloorLane, Heat
from tallywire.core.model.workout import Credit, Mark, Station, Workout
from tallywire.core.ranking.points import PointsTable

CAP_MS = 900_000


def seeds(numbers: range, *, quick: int) -> list[ParameterSet]:
    """The first `quick` random cases run always, the others with what is slow."""
    return [pytest.param(seed, marks=[pytest.mark.slow] if n >= quick else []) for n, seed in enumerate(numbers)]


HEAT = "heat"
TEN_A_PLACE = PointsTable(tuple(range(100, 0, -10)))
"""Points that are easy to work with by hand (common practice, no source)."""


def rounds_of_22(rounds: int = 5) -> tuple[tuple[Station, ...], ...]:
    """One rep, a block of forty credited as one, ten and ten: 22 scored reps a round (common practice, no source)."""
    stations = (
        Station(movement="sled haul", amount=1),
        Station(movement="shuttle touch", amount=40, credit=Credit.BLOCK),
        Station(movement="sandbag over shoulder", amount=10),
        Station(movement="box step-over", amount=10),
    )
    return (stations,) * rounds


def workout(
    *,
    kind: str = "for_time",
    rounds: tuple[tuple[Station, ...], ...] | None = None,
    cap_ms: int = CAP_MS,
    tie_break: Mark | None = None,
) -> Workout:
    """A workout of five rounds of 22 unless told otherwise (common practice, no source)."""
    return Workout(format=kind, rounds=rounds or rounds_of_22(), time_cap_ms=cap_ms, tie_break=tie_break)


def competition(work: Workout | None = None, *, lanes: int = 3, men: Iterable[int] = ()) -> Competition:
    """One event, one heat with entries e1, e2 … on lanes 1, 2 …, all women but the lanes in `men`."""
    numbers = range(1, lanes + 1)
    heat = Heat(id=HEAT, name="Heat 1", event="event", lanes={n: f"e{n}" for n in numbers})
    entries = [
        Entry(id=f"e{n}", name=f"Entry {n}", short=f"E{n}", division="men" if n in set(men) else "women")
        for n in numbers
    ]
    return Competition(
        name="Test Trials",
        divisions={each: Division(id=each, name=each.title()) for each in ("women", "men")},
        entries={entry.id: entry for entry in entries},
        points={"table": TEN_A_PLACE},
        events={"event": Event(id="event", name="Event", workout=work or workout(), points="table")},
        heats={HEAT: heat},
    )


def on_lanes(numbers: Iterable[int]) -> list[FloorLane]:
    """These lanes of the one floor."""
    return [FloorLane(lane=n) for n in numbers]


class Pad:
    """Makes one sender's facts with running numbers and ids."""

    def __init__(self, sender: str, lane: int = 0) -> None:
        self.sender = sender
        self.lane = lane
        self._numbers = count(1)

    def _stamp(self, at_ms: int) -> dict[str, object]:
        number = next(self._numbers)
        return {
            "id": f"{self.sender}.{number}",
            "heat": HEAT,
            "at_ms": at_ms,
            "sender": self.sender,
            "sequence": number,
        }

    def start(self, at_ms: int = 0) -> HeatStarted:
        """The heat was started."""
        return HeatStarted(**self._stamp(at_ms), unix_ms=1_800_000_000_000)  # type: ignore[arg-type]

    def call(self, at_ms: int, unix_ms: int, *, heat: str = HEAT) -> HeatCalled:
        """The heat was called to the floor."""
        return HeatCalled(**{**self._stamp(at_ms), "heat": heat}, unix_ms=unix_ms)  # type: ignore[arg-type]

    def recall(self, at_ms: int, start: HeatStarted) -> HeatRecalled:
        """A start was false."""
        return HeatRecalled(**self._stamp(at_ms), recalls=start.id, unix_ms=start.unix_ms + at_ms)  # type: ignore[arg-type]

    def end(self, at_ms: int) -> HeatEnded:
        """The heat was ended."""
        return HeatEnded(**self._stamp(at_ms))  # type: ignore[arg-type]

    def reps(self, at_ms: int, n: int = 1, member: int | None = None) -> RepCounted:
        """Units were counted."""
        return RepCounted(**self._stamp(at_ms), lane=self.lane, n=n, member=member)  # type: ignore[arg-type]

    def block(self, at_ms: int) -> BlockCompleted:
        """A block was completed."""
        return BlockCompleted(**self._stamp(at_ms), lane=self.lane)  # type: ignore[arg-type]

    def no_rep(self, at_ms: int) -> NoRepCalled:
        """A no-rep was called."""
        return NoRepCalled(**self._stamp(at_ms), lane=self.lane, reason="depth")  # type: ignore[arg-type]

    def correct(self, at_ms: int, scored_reps: int, *, lane: int | None = None) -> CountCorrected:
        """The count was corrected."""
        lane = self.lane if lane is None else lane
        return CountCorrected(**self._stamp(at_ms), lane=lane, scored_reps=scored_reps, reason="sheet")  # type: ignore[arg-type]

    def finish(self, at_ms: int) -> Finished:
        """The judge saw the finish."""
        return Finished(**self._stamp(at_ms), lane=self.lane)  # type: ignore[arg-type]

    def declare(self, at_ms: int, load_milli: int) -> AttemptDeclared:
        """An attempt was declared."""
        return AttemptDeclared(**self._stamp(at_ms), lane=self.lane, load_milli=load_milli)  # type: ignore[arg-type]

    def made(self, at_ms: int) -> AttemptMade:
        """A lift was good."""
        return AttemptMade(**self._stamp(at_ms), lane=self.lane)  # type: ignore[arg-type]

    def failed(self, at_ms: int) -> AttemptFailed:
        """A lift was not good."""
        return AttemptFailed(**self._stamp(at_ms), lane=self.lane)  # type: ignore[arg-type]

    def exchange(self, at_ms: int, member: int) -> Exchanged:
        """The work passed to a member."""
        return Exchanged(**self._stamp(at_ms), lane=self.lane, member=member)  # type: ignore[arg-type]

    def conduct(self, kind: type[LaneFact], at_ms: int, **fields: object) -> Fact:
        """Any fact about the lane's conduct."""
        return kind(**self._stamp(at_ms), lane=self.lane, **fields)  # type: ignore[arg-type]

    def sign(self, at_ms: int, digest: str) -> HeatSigned:
        """The head judge signed."""
        return HeatSigned(**self._stamp(at_ms), by="Head Judge", digest=digest)  # type: ignore[arg-type]

    def withdraw(self, at_ms: int) -> Withdrawn:
        """The entry stopped."""
        return Withdrawn(**self._stamp(at_ms), lane=self.lane)  # type: ignore[arg-type]

    def void(self, at_ms: int, fact: Fact) -> FactVoided:
        """A fact was voided."""
        return FactVoided(**self._stamp(at_ms), voids=fact.id, lane=getattr(fact, "lane", None))  # type: ignore[arg-type]


def full_round(pad: Pad, start_ms: int, *, step_ms: int = 1000) -> list[Fact]:
    """One round of 22 (common practice, no source): haul, block, ten, ten, a step apart, 22 in all."""
    head: list[Fact] = [pad.reps(start_ms + step_ms), pad.block(start_ms + 2 * step_ms)]
    return head + [pad.reps(start_ms + step_ms * step) for step in range(3, 23)]


Script = Mapping[str, list[Fact]]
"""The facts of each sender, in the sender's own order."""


_ANY = st.integers(0, 10**6)
_COUNT, _LATER_MS, _UNITS = st.integers(0, 12), st.integers(0, 120_000), st.integers(1, 45)
_TABLE_COUNT, _TABLE_MS, _REPS = st.integers(0, 4), st.integers(0, CAP_MS + 10_000), st.integers(0, 115)
_NAMES_START, _IS_RECALLED = st.booleans(), st.sampled_from([True, False, False, False])
_PAD_KIND, _TABLE_KIND = st.sampled_from("rrrrrrbbnfwv"), st.sampled_from("ccvvve")
"""Made once: to make a strategy costs more than to draw from it."""


@st.composite
def scripts(draw: st.DrawFn, *, lanes: int = 3) -> Script:
    """Random heats: a pad a lane and the table, with counts, blocks, no-reps, voids of own and of others' facts."""
    table = Pad("table-a")
    start = table.start()
    script: dict[str, list[Fact]] = {table.sender: [start]}
    for lane in range(1, lanes + 1):
        pad = Pad(f"lane-{lane}-a", lane)
        facts = _lane_script(draw, pad)
        script[pad.sender] = [replace(fact, start=start.id) if draw(_NAMES_START) else fact for fact in facts]
    if draw(_IS_RECALLED):
        at_ms = draw(_LATER_MS)
        recalled = table.recall(at_ms, start)
        again = replace(table.start(), unix_ms=start.unix_ms + at_ms)
        script[table.sender] += [recalled, again]
    everything = [fact for facts in script.values() for fact in facts]
    for _ in range(draw(_TABLE_COUNT)):
        script[table.sender].append(_table_fact(draw, table, everything, lanes))
        everything.append(script[table.sender][-1])
    return script


def _lane_script(draw: st.DrawFn, pad: Pad) -> list[Fact]:
    facts: list[Fact] = []
    at_ms = 0
    for _ in range(draw(_COUNT)):
        at_ms += draw(_LATER_MS)
        facts.append(_pad_fact(draw, pad, at_ms, facts))
    return facts


def _pad_fact(draw: st.DrawFn, pad: Pad, at_ms: int, before: list[Fact]) -> Fact:
    kind = draw(_PAD_KIND)
    if kind == "v" and before:
        return pad.void(at_ms, before[draw(_ANY) % len(before)])
    if kind == "b":
        return pad.block(at_ms)
    if kind == "n":
        return pad.no_rep(at_ms)
    if kind == "f":
        return pad.finish(at_ms)
    if kind == "w":
        return pad.withdraw(at_ms)
    return pad.reps(at_ms, draw(_UNITS))


def _table_fact(draw: st.DrawFn, table: Pad, known: list[Fact], lanes: int) -> Fact:
    at_ms = draw(_TABLE_MS)
    kind = draw(_TABLE_KIND)
    if kind == "c":
        return table.correct(at_ms, draw(_REPS), lane=1 + draw(_ANY) % lanes)
    if kind == "e":
        return table.end(at_ms)
    return table.void(at_ms, known[draw(_ANY) % len(known)])


@st.composite
def deliveries(draw: st.DrawFn, script: Script) -> list[Fact]:
    """One delivery order that keeps each sender's own order."""
    left = {sender: iter(facts) for sender, facts in script.items()}
    turns = [sender for sender, facts in sorted(script.items()) for _ in facts]
    Random(draw(_ANY)).shuffle(turns)
    return [next(left[sender]) for sender in turns]
