"""Earlier events are believed of an entry before the next one starts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.called import call
from core.folding import fold
from core.samples import HEAT, Pad, competition, full_round
from tallywire.core.facts import Fact
from tallywire.core.fold.heat import HeatState
from tallywire.core.forecast.past import DAY_SD, KEPT_SD, histories
from tallywire.core.model.competition import Competition, Heat

STEPS_MS = (900, 1_000, 1_100)


def heat(name: str, steps_ms: tuple[int, ...]) -> list[Fact]:
    """A whole heat: lane 1, 2 … at a step of its own, all five rounds."""
    facts: list[Fact] = [replace(Pad(f"starter-{name}").start(), heat=name)]
    for lane, step_ms in enumerate(steps_ms, start=1):
        pad = Pad(f"lane-{name}-{lane}", lane)
        for turn in range(5):
            facts += [replace(fact, heat=name) for fact in full_round(pad, turn * 22 * step_ms, step_ms=step_ms)]
    return facts


def state(name: str, lanes: tuple[str, ...], steps_ms: tuple[int, ...]) -> HeatState:
    """The end of a heat with these entries."""
    base = competition(lanes=6)
    work = replace(base, heats={name: Heat(id=name, name=name, event="event", lanes=dict(enumerate(lanes, start=1)))})
    return fold(work, name, heat(name, steps_ms), 900_000)


def test_who_was_faster_is_believed_to_be_by_less() -> None:
    """Ten per cent faster than the field in one event: believed, and shrunk, because not all of it stays."""
    found = histories([state(HEAT, ("e1", "e2", "e3"), STEPS_MS)], seed=1)
    assert -0.1 < found["e1"].log_pace < -0.02
    assert found["e3"].log_pace > 0.02
    assert found["e2"].log_pace == pytest.approx(0.0, abs=0.03)
    assert DAY_SD < found["e1"].sd < (KEPT_SD**2 + DAY_SD**2) ** 0.5


def test_a_level_is_measured_against_the_whole_event() -> None:
    """Heats are seeded: the slowest of the fast heat is faster than the fastest of the slow one."""
    slow = state("h1", ("e1", "e2", "e3"), (1_200, 1_250, 1_300))
    fast = state("h2", ("e4", "e5", "e6"), (900, 950, 1_000))
    found = histories([slow, fast], seed=1)
    assert found["e6"].log_pace < 0 < found["e1"].log_pace


def two_events() -> Competition:
    """The same three entries in two events."""
    base = competition(lanes=3)
    first, own = base.events["event"], base.heats[HEAT]
    return replace(
        base,
        events={"first": replace(first, id="first"), "event": first},
        heats={"h1": replace(own, id="h1", event="first"), HEAT: own},
    )


def test_before_the_next_event_the_faster_entry_is_the_favourite() -> None:
    """At the start of the second event nobody has done anything; the forecast goes by the first."""
    facts = [*heat("h1", STEPS_MS), Pad("table-a").start()]
    lanes = call(two_events(), facts, HEAT, 1_000)["lanes"]
    chances = [lanes[number]["outlook"]["heat_places"][0] for number in ("1", "2", "3")]
    assert chances[0] > chances[1] > chances[2]
    assert lanes["1"]["outlook"]["finish_ms"]["median"] < lanes["3"]["outlook"]["finish_ms"]["median"]
