"""A lift that was declared in time and is judged after the end: until then nothing is certain."""

from __future__ import annotations

from collections.abc import Sequence

from core.called import call
from core.cue_heats import END_MS, lift_work, lifts
from core.samples import HEAT, Pad
from tallywire.core.facts import Fact

LATE = Pad("late", 2)
DECLARED = LATE.declare(299_000, 120_000)
BEFORE = [Pad("starter").start(), *lifts(1, 100, 110), *lifts(2, 90, 105), DECLARED, Pad("ender").end(END_MS)]


def clinched(facts: Sequence[Fact]) -> list[bool]:
    """Whether the first two lanes have the overall lead whatever happens, after the end."""
    lanes = call(lift_work(lanes=3), facts, HEAT, END_MS + 20_000)["lanes"]
    return [lanes[lane]["stakes"]["clinched"] for lane in ("1", "2")]


def test_a_declared_lift_keeps_the_lead_open_after_the_end() -> None:
    """110 kg leads 105 kg, and 120 kg was declared in time: nobody leads for certain until it is judged."""
    assert clinched(BEFORE) == [False, False]
    assert clinched([*BEFORE, LATE.failed(END_MS + 5_000)]) == [True, False]
    assert clinched([*BEFORE, LATE.made(END_MS + 5_000)]) == [False, True]


def test_chances_overall_keep_to_what_is_proved() -> None:
    """While the lift is open the first two places are within reach of both; once it has failed only one is left."""
    still = call(lift_work(lanes=3), BEFORE, HEAT, END_MS + 2_000)["lanes"]["1"]
    done = call(lift_work(lanes=3), [*BEFORE, LATE.failed(END_MS + 5_000)], HEAT, END_MS + 20_000)["lanes"]["1"]
    assert (still["stakes"]["best"], still["stakes"]["worst"]) == (1, 2)
    assert 0 < still["outlook"]["overall_places"][0] < 1
    assert done["outlook"]["overall_places"] == [1]
