"""The recorded examples, and at which instants each is looked at. Plain data: nothing here knows the product."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

Fact = dict[str, Any]

FOLDER = Path(__file__).parents[2] / "scenarios"
FLOORS = Path(__file__).with_name("two-floors.ndjson")
SEEN = "as the table saw it"
"""Stands in the place of a signature's digest: the one in the table's frame of the stop before."""
_LATER_MS = 61_000
"""A minute after the end nobody listens to a heat any more."""
_TURN_MS = 900_000
"""Between the starts of two heats of a day: longer than any heat of the Estuary Trials."""
_PARTS = 10
_CALLED = frozenset({2, 5, 8})
"""At which tenths of a heat its call is made: a forecast costs more than all other views together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """An instant at which a heat is looked at: at `at_ms` of its clock, with all that had happened by then.

    `says` happens at this instant besides what was recorded. `calls`: whether the call is looked at too.
    """

    name: str
    heat: str
    at_ms: int
    calls: bool = True
    says: tuple[Fact, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """Recordings played into one competition, and the stops on the way. `recordings` are files, in their order."""

    name: str
    competition: Path
    recordings: tuple[Path, ...]
    facts: tuple[Fact, ...]
    stops: tuple[Stop, ...]

    @property
    def zero_unix_ms(self) -> dict[str, int]:
        """When the clock of each heat stood at 0."""
        starts = [fact for fact in self.facts if fact["fact"] == "heat_started"]
        return {fact["heat"]: fact["unix_ms"] - fact["at_ms"] for fact in starts}


def examples() -> dict[str, Example]:
    """Give every example by its name: each recording alone, three mended on the way, two whole days, and two floors."""
    alone = [_alone(path) for path in sorted(FOLDER.glob("*.ndjson"))]
    named = {each.name: each for each in alone}
    return named | {
        each.name: each
        for each in (
            _mended(named["saltmarsh-women-2"], lane=4, reps=40),
            _mended(named["estuary-tides"], lane=2, reps=9),
            _mended(named["estuary-anchor"], lane=1, reps=None),
            _signed(named["saltmarsh-women-2"]),
            _saltmarsh_day(named),
            _estuary_day([each for each in alone if each.name.startswith("estuary-")]),
            _two_floors(),
        )
    }


def _alone(path: Path) -> Example:
    facts = tuple(json.loads(line) for line in path.read_text(encoding="utf-8").splitlines())
    competition = FOLDER / ("estuary.toml" if path.name.startswith("estuary-") else "saltmarsh.toml")
    stops = _stops(facts[0]["heat"], facts)
    return Example(name=path.stem, competition=competition, recordings=(path,), facts=facts, stops=stops)


def _stops(heat: str, facts: tuple[Fact, ...]) -> tuple[Stop, ...]:
    """Before the start, at every tenth of the time, a millisecond before and after the cap, at the end, and later."""
    end_ms = facts[-1]["at_ms"]
    cap_ms = end_ms - end_ms % 5_000
    tenths = [(cap_ms * part // _PARTS, part in _CALLED) for part in range(1, _PARTS)]
    ends = [(cap_ms - 1, True), (cap_ms + 1, False), (end_ms, True), (end_ms + _LATER_MS, False)]
    idle = Stop(name="before", heat=heat, at_ms=-1_000)
    return idle, *(_stop(heat, at_ms, calls=calls) for at_ms, calls in (*tenths, *ends))


def _stop(heat: str, at_ms: int, word: str = "", *, calls: bool = True) -> Stop:
    return Stop(name=f"{at_ms:07d}{word and '-'}{word}", heat=heat, at_ms=at_ms, calls=calls)


def _mended(example: Example, *, lane: int, reps: int | None) -> Example:
    """Half-way through, what is long past is put right, out of its order; then the heat goes on to its end."""
    heat, end = example.facts[0]["heat"], example.facts[-1]["at_ms"]
    half_ms, speaker = end // 2, _Speaker(heat)
    made = next(each for each in example.facts if each["fact"] in ("rep_counted", "attempt_made"))
    recount = {"lane": lane, "scored_reps": reps, "reason": "recount"}
    mends = [
        *([] if reps is None else [speaker.fact("count_corrected", half_ms // 2, **recount)]),
        speaker.fact("fact_voided", half_ms, voids=made["id"], lane=made["lane"], reason="not seen"),
        speaker.fact("hold_placed", half_ms, lane=3),
        speaker.fact("penalty_given", half_ms // 2, lane=2, reps=1, reason="dropped bar"),
        speaker.fact("hold_released", half_ms, lane=3),
    ]
    stops = [_stop(heat, half_ms, "0-plain")]
    for number, fact in enumerate(mends, start=1):
        stops.append(replace(_stop(heat, half_ms, f"{number}-{fact['fact']}"), says=(fact,)))
    stops += [_stop(heat, end * 3 // 4), _stop(heat, end), _stop(heat, end + _LATER_MS, calls=False)]
    return replace(example, name=f"{example.name}-mended", stops=tuple(stops))


def _signed(example: Example) -> Example:
    """A view on programme while the heat runs; then the heat is checked, signed, and mended again."""
    heat, end = example.facts[0]["heat"], example.facts[-1]["at_ms"]
    table, desk, zero_ms = _Speaker(heat), _Speaker(heat, "desk-golden"), example.zero_unix_ms[heat]
    shown = {"output": "world", "view": "duel", "params": {"who": "lane:4,lane:5"}, "unix_ms": zero_ms + 300_000}
    steps = [
        ("taken", 300_000, (desk.fact("view_taken", 300_000, by="operator", **shown),)),
        ("held", 310_000, (table.fact("hold_placed", 310_000, lane=5),)),
        ("checked", end + 20, tuple(table.fact("sheet_checked", end + 20, lane=n, by="Table") for n in range(1, 11))),
        ("signed", end + 30, (table.fact("heat_signed", end + 30, by="Judge", digest=SEEN),)),
        ("reopened", end + 40, (table.fact("count_corrected", end + 40, lane=4, scored_reps=60, reason="video"),)),
        ("points", end + 50, (table.fact("points_deducted", end + 50, lane=6, points=15, reason="late"),)),
    ]
    stops = [replace(_stop(heat, at_ms, word, calls=at_ms < end), says=says) for word, at_ms, says in steps]
    return replace(example, name=f"{example.name}-signed", stops=tuple(stops))


def _saltmarsh_day(alone: Mapping[str, Example]) -> Example:
    """The second event with the first one known: standings before and after, points to the cut, what is needed."""
    first, second = alone["saltmarsh-women-2"], alone["ebb-tide-women"]
    stops = (first.stops[-1], *(stop for stop in second.stops if stop.calls))
    return Example(
        name="saltmarsh-day",
        competition=first.competition,
        recordings=first.recordings + second.recordings,
        facts=first.facts + second.facts,
        stops=stops,
    )


def _estuary_day(alone: list[Example]) -> Example:
    """Every format in one competition, one heat after the other, each looked at half-way and after its end."""
    facts: list[Fact] = []
    stops: list[Stop] = []
    for turn, example in enumerate(alone):
        facts += [_moved(fact, turn * _TURN_MS) for fact in example.facts]
        heat, end_ms = example.facts[0]["heat"], example.facts[-1]["at_ms"]
        stops += [_stop(heat, end_ms // 2, heat), _stop(heat, end_ms + 1, heat, calls=False)]
    files = tuple(chain.from_iterable(each.recordings for each in alone))
    return Example(
        name="estuary-day",
        competition=alone[0].competition,
        recordings=files,
        facts=tuple(facts),
        stops=tuple(replace(stop, name=f"{n:02d}-{stop.name}") for n, stop in enumerate(stops)),
    )


def _two_floors() -> Example:
    """Two heats of an event at once, 41 s apart, then another event on one of the floors; put right from either side.

    On the way a view of one floor goes on programme, a lane of the other is corrected, held and taken back, and the
    first heat is signed while the second still runs.
    """
    facts = tuple(json.loads(line) for line in FLOORS.read_text(encoding="utf-8").splitlines())
    east, west, desk = _Speaker("east-1"), _Speaker("west-1", "table-west"), _Speaker("west-1", "desk-golden")
    start_ms = next(fact["unix_ms"] for fact in facts if fact["heat"] == "west-1" and "unix_ms" in fact)
    shown = {"output": "west", "view": "heat", "params": {}, "unix_ms": start_ms + 5_000}
    recount = {"lane": 1, "scored_reps": 14, "reason": "recount"}
    held = east.fact("hold_placed", 50_000, lane=2)
    checks = tuple(east.fact("sheet_checked", 71_000, lane=lane, by="Table") for lane in (1, 2, 3))
    released = east.fact("hold_released", 121_000, lane=2)
    stops = [
        _stop("east-1", 30_000, "alone"),
        replace(_stop("west-1", 5_000, "taken"), says=(desk.fact("view_taken", 5_000, by="operator", **shown),)),
        replace(_stop("west-1", 12_000, "held"), says=(held,)),
        _stop("east-1", 60_000, "both"),
        _stop("west-1", 25_000, "both"),
        replace(_stop("east-1", 72_000, "checked", calls=False), says=checks),
        replace(_stop("west-1", 70_000, "recount"), says=(west.fact("count_corrected", 69_500, **recount),)),
        replace(_stop("west-1", 80_000, "released"), says=(released,)),
        _stop("west-1", 181_000, "east over", calls=False),
        _stop("east-2", 30_000, "next event"),
        _stop("east-2", 60_000, "end", calls=False),
        _stop("west-1", 500_000, "later", calls=False),
    ]
    named = tuple(replace(stop, name=f"{n:02d}-{stop.heat}-{stop.name}") for n, stop in enumerate(stops))
    competition = FLOORS.with_suffix(".toml")
    return Example(name=FLOORS.stem, competition=competition, recordings=(FLOORS,), facts=facts, stops=named)


def _moved(fact: Fact, by_ms: int) -> Fact:
    return fact | {"unix_ms": fact["unix_ms"] + by_ms} if "unix_ms" in fact else fact


class _Speaker:
    """A sender whose facts come besides the recorded ones, in the order in which they are made here."""

    def __init__(self, heat: str, name: str = "table-golden") -> None:
        self._heat = heat
        self._name = name
        self._count = 0

    def fact(self, kind: str, at_ms: int, **fields: object) -> Fact:
        """Give the next fact."""
        self._count += 1
        stamp = {"id": f"{self._name}.{self._count}", "heat": self._heat, "at_ms": at_ms}
        return {"fact": kind, **stamp, "sender": self._name, "sequence": self._count, **fields}
