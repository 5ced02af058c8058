"""When a lane has stalled, judged by its own forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.examples import competition_of, recorded
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.of_heat import scene_of
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.forecast.silence import REST_CHANCE, Wait
from tallywire.core.forecast.stall import GOES_ON, _rhythm_ms, silence_of, stalls
from tallywire.core.model.workout import Plan, Station, Workout

PLAN = Plan(
    Workout(
        format="for_time",
        rounds=((Station(movement="swing", amount=100, expected_ms=200_000),),),
        time_cap_ms=1_800_000,
    ),
    laps=1,
)


def steady(lane: int, every_ms: int, reps: int = 30) -> Runner:
    """A lane that has done a rep every so many milliseconds."""
    trail = [(every_ms * n, n) for n in range(1, reps + 1)]
    return Runner(lane=lane, entry=f"e{lane}", division="open", trail=trail)


def test_a_slow_lane_may_be_silent_for_longer_than_a_quick_one() -> None:
    """At a rep in 1.5 s a lane has stalled long before one at a rep in 12 s, on the same station."""
    found = stalls(Scene(plan=PLAN, runners=[steady(1, 1_500), steady(2, 12_000)], now_ms=360_000))
    assert found[1] < 20_000 < found[2]


def test_silence_of_the_lane_itself_does_not_move_its_bound() -> None:
    """The bound is that of a wait which begins: a lane that stands still does not talk itself out of the alarm."""
    scene = Scene(plan=PLAN, runners=[steady(1, 2_000)], now_ms=60_000)
    assert stalls(replace(scene, now_ms=120_000)) == stalls(scene)


@pytest.mark.parametrize(
    ("gaps_s", "begun", "rhythm_ms"),
    [
        ((), 0, 0),
        ((4, 5), 0, 0),
        ((4, 5, 9), 0, 5_000),
        ((4, 5, 9, 20), 0, 7_000),
        ((90, 4, 5, 9, 20, 30), 0, 9_000),
        ((4, 5, 9), 1, 0),
        ((90, 4, 5, 9), 1, 5_000),
    ],
)
def test_a_rhythm_is_the_median_of_three_to_five_gaps_in_the_station(
    gaps_s: tuple[int, ...], begun: int, rhythm_ms: int
) -> None:
    """Two say nothing, the sixth last is forgotten, and what lies before the station's first unit does not count."""
    trail = [(sum(gaps_s[:n]) * 1000, n + 1) for n in range(len(gaps_s) + 1)]
    assert _rhythm_ms(trail, begun) == rhythm_ms


def test_who_has_nothing_left_to_do_does_not_stall() -> None:
    """A lane that is home and one that is out are not asked about."""
    home = replace(steady(1, 1_000, reps=100), finish_ms=100_000)
    out = replace(steady(2, 1_000), out=True)
    assert list(stalls(Scene(plan=PLAN, runners=[home, out, steady(3, 1_000)], now_ms=100_000))) == [3]


@pytest.mark.parametrize(("usual_ms", "sharpness"), [(2_000.0, 6.0), (40_000.0, 9.0)])
def test_one_wait_in_fifty_goes_on(usual_ms: float, sharpness: float) -> None:
    """Of a million waits drawn by their laws (log-logistic by the inverse of its distribution), 2 % last longer."""
    one = np.array
    rest_ms, rest_k = usual_ms + 8_000, 2.5
    zero = one([0.0])
    wait = Wait(
        usual_ms=one([usual_ms]),
        usual_k=one([sharpness]),
        rest_ms=one([rest_ms]),
        rest_k=one([rest_k]),
        rest_chance=zero,
        waited_ms=zero,
        left=zero,
    )
    draw = np.random.default_rng(7)
    odds = 1 / draw.random(1_000_000) - 1
    rests = draw.random(1_000_000) < REST_CHANCE
    waits = np.where(rests, rest_ms * odds ** (1 / rest_k), usual_ms * odds ** (1 / sharpness))
    assert float((waits > silence_of(wait)[0]).mean()) == pytest.approx(GOES_ON, abs=0.0006)


def test_the_stall_of_the_demo_heat_is_found_and_little_else() -> None:
    """In the recorded heat every lane that works is bounded, all within some two minutes, and looks are rare."""
    facts = recorded("saltmarsh-women-2")
    competition = competition_of("saltmarsh")
    event = competition.event_of(competition.heats["women-2"])
    snapshot = CompetitionBook(competition, facts).at_clocks({"women-2": 300_000})
    found = model_of(event.workout).stalls(scene_of(snapshot.heats["women-2"].state))
    assert found
    assert max(found.values()) < 120_000
