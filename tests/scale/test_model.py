"""The simulation against what is known of queues, against what was measured, and the tables of docs/scale.md."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import pytest

from scale.costs import Costs
from scale.model import Arena, Cache, Crowd, committed, one_after_the_other, taps, through_arena, through_cache
from scale.simulate import report

PAGE = Path(__file__).parents[2] / "docs" / "scale.md"
COSTS = Costs.kept()


@pytest.mark.parametrize("busy", [0.3, 0.6, 0.8])
def test_waiting_is_that_of_the_textbook(busy: float) -> None:
    """Random arrivals, one server, equal work (M/D/1): on average ρ·s / (2·(1 − ρ)) in the queue (Pollaczek and
    Khinchine; the formula is from memory).
    """
    dice, at, arrivals = Random(5), 0.0, list[float]()
    for _ in range(200_000):
        at += dice.expovariate(busy)
        arrivals.append(at)
    left = one_after_the_other(arrivals, 1.0)
    waited = np.mean(np.array(left) - np.array(arrivals)) - 1.0
    assert waited == pytest.approx(busy / (2 * (1 - busy)), rel=0.05)


def test_a_group_is_what_came_during_the_last_one() -> None:
    """Worked out by hand: 1 s a group and 0.1 s a line; the second group has the two that came meanwhile."""
    done = committed([0.0, 0.5, 1.0, 9.0], group_s=1.0, each_s=0.1)
    assert done == pytest.approx([1.1, 2.3, 2.3, 10.1])


def test_cores_are_as_busy_as_the_work_says() -> None:
    """The utilisation law (arrivals a second by seconds of work each) holds for writer and Redis."""
    flow = through_arena(Arena(heats=8), COSTS, seconds=120.0, dice=Random(1))
    assert flow.writer == pytest.approx(8 * 4.0 * COSTS.writer_fact_s, rel=0.05)
    assert flow.redis == pytest.approx(8 * 4.0 * COSTS.redis_fact_s, rel=0.05)
    assert len(taps(Arena(heats=8), 120.0, Random(1))) == pytest.approx(8 * 4.0 * 120, rel=0.05)


def test_too_much_is_seen_to_be_too_much() -> None:
    """An arena whose writer has more work than time is late, and ever later; one with less is not."""
    slow = replace(COSTS, writer_fact_s=0.3)
    late = through_arena(Arena(heats=1), slow, seconds=60.0, dice=Random(1)).late_s
    assert late[-1] > 5 > late[10]
    assert through_arena(Arena(heats=1), COSTS, seconds=60.0, dice=Random(1)).within(0.99) < 0.1


def test_a_crowd_asks_as_the_page_does() -> None:
    """Once in 1.1 s on average, and a segment in twenty seconds, whatever the sample; too many wait."""
    dice = np.random.default_rng(2)
    for viewers in (2000, 200_000):
        rush = through_cache(Crowd(viewers=viewers), COSTS, cache=Cache(), seconds=60.0, dice=dice)
        # A phone asks at the next slot of 0.05 s.
        assert rush.asks_s / viewers == pytest.approx(1 / 1.125 + 1 / 20, rel=0.02)
    calm = through_cache(Crowd(viewers=2000), COSTS, cache=Cache(), seconds=60.0, dice=dice)
    anew = through_cache(Crowd(viewers=2000, newcomers=200_000), COSTS, cache=Cache(), seconds=60.0, dice=dice)
    assert (calm.late_s, anew.late_s > 1) == (0, True)


def test_the_page_has_what_the_command_prints() -> None:
    """Every table of the simulation stands in docs/scale.md, as it comes from the costs that were measured last."""
    text = PAGE.read_text(encoding="utf-8")
    for table in "\n".join(report(COSTS)).split("\n\n"):
        assert table in text, f"expected in docs/scale.md:\n{table}"
