"""The forecast: what must hold whatever the figures, and its parts against closed forms."""

from __future__ import annotations

import math
import random
from dataclasses import asdict, replace
from typing import Any

import numpy as np
import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.cue_heats import lift_work
from core.examples import competition_of, recorded
from core.folding import fold
from core.samples import CAP_MS, HEAT, Pad, competition, full_round, rounds_of_22, workout
from tallywire.core.clinching.race import Contender
from tallywire.core.clinching.race import Race as NeededRace
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.forecast.answer import Forecast, LaneForecast
from tallywire.core.forecast.draws import CELLS, Numbers, place_chances, places, play_each, scored, scored_at
from tallywire.core.forecast.ends import capped_scale
from tallywire.core.forecast.legs import legs_of
from tallywire.core.forecast.model import LANE_BASE, SETTINGS, History, Prior, _by_setting, believe, learn
from tallywire.core.forecast.of_event import lesson, overall_of, taught_by
from tallywire.core.forecast.of_heat import scene_of
from tallywire.core.forecast.outlook import _stopping, look_ahead
from tallywire.core.forecast.predict import _count_spreads, _spreads, forecast
from tallywire.core.forecast.reading import read
from tallywire.core.forecast.scene import Overall, Result, Runner, Scene
from tallywire.core.forecast.silence import Wait
from tallywire.core.formats.registry import plugged
from tallywire.core.model.workout import Mark, Plan
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, PointsTable, TiePolicy
from tallywire.core.ranking.standing import StandingRules
from tallywire.formats.for_time_with_penalty.rules import CapPenalty

PLAN = Plan(workout(), laps=1)
ENDLESS = Plan(workout(kind="amrap", rounds=rounds_of_22(1)), laps=None)
Trail = list[tuple[int, int]]


def trail(rounds: int, *, pace: float = 1.0, plan: Plan = PLAN) -> Trail:
    """Whole rounds at `pace` times the expected time, every unit of a station taking the same."""
    found, at_ms = [], 0.0
    for n in range(rounds):
        for leg in plan.legs[: len(plan.legs) // plan.rounds_a_lap]:
            units = leg.station.amount
            steps = [units] if units == 40 else range(1, units + 1)
            start = n * 61 + leg.done_before
            found += [(round(at_ms + pace * 30_000 * step / units), start + step) for step in steps]
            at_ms += pace * 30_000
    return found


def scene(*trails: Trail, now_ms: int, plan: Plan = PLAN, **more: object) -> Scene:
    """Lanes 1, 2 … of one division."""
    runners = [
        Runner(lane=lane, entry=f"e{lane}", division="d", trail=each) for lane, each in enumerate(trails, start=1)
    ]
    return Scene(plan=plan, runners=runners, now_ms=now_ms, **more)  # type: ignore[arg-type]


def overall(before: dict[str, int], worth: tuple[int, ...], **more: object) -> dict[str, Overall]:
    """What places make of a standing of one division."""
    contenders = tuple(Contender(entry=entry, points=points) for entry, points in before.items())
    return {"d": overall_of(NeededRace(contenders=contenders, table=PointsTable(worth), **more))}  # type: ignore[arg-type]


def ask(asked: Scene, *, seed: int = 1) -> dict[int, LaneForecast]:
    """Forecast with few draws."""
    return dict(forecast(asked, seed=seed, draws=1000).lanes)


def median(lane: LaneForecast) -> float:
    """The median finish."""
    assert lane.finish_ms is not None
    return lane.finish_ms.median


def change(asked: Scene, lane: int, **fields: object) -> Scene:
    """The scene with one runner changed."""
    runners = [replace(each, **fields) if each.lane == lane else each for each in asked.runners]  # type: ignore[arg-type]
    return replace(asked, runners=runners)


def test_before_the_start_the_expected_time_speaks() -> None:
    """With nothing done the median finish is the expected 600 s and the usual fade, the same for all, and unsure."""
    lanes = ask(scene([], [], now_ms=0))
    for lane in lanes.values():
        assert 600_000 < median(lane) < 700_000
        assert lane.finish_ms is not None
        low, high = lane.finish_ms.intervals[80]
        assert high - low > 100_000
        assert lane.heat_places[0] == pytest.approx(0.5, abs=0.06)


def test_the_same_seed_gives_the_same_forecast() -> None:
    """A forecast depends on its scene, seed and number of draws alone."""
    asked = scene(trail(2), trail(1), now_ms=250_000)
    assert ask(asked) == ask(asked)
    assert ask(asked, seed=2) != ask(asked)


def test_the_numbers_that_forecasts_share_cannot_be_written_to() -> None:
    """Neither whole nor in part: two threads may draw from them at once."""
    numbers = Numbers.of(1, lanes=2, effects=3, draws=10)
    for shared in (numbers, numbers.part(2, 5)):
        with pytest.raises(ValueError, match="read-only"):
            shared.own[0, 0] = 0


def test_intervals_contain_each_other() -> None:
    """The 50 % interval lies in the 80 %, that in the 95 %, and the median in all; work done narrows them."""
    widths = []
    for rounds in (1, 3, 4):
        found = ask(scene(trail(rounds), trail(rounds, pace=1.1), now_ms=rounds * 133_000))[1].finish_ms
        assert found is not None
        (a, b), (c, d), (e, f) = (found.intervals[level] for level in (95, 80, 50))
        assert a <= c <= e <= found.median <= f <= d <= b
        widths.append(d - c)
    assert widths == sorted(widths, reverse=True)


@given(st.integers(0, 60), st.integers(0, 40))
def test_the_longer_nothing_comes_the_later_the_finish(silence_s: int, more_s: int) -> None:
    """More silence never brings the median finish forward (beyond the noise of 1,000 draws), nor raises the chance."""
    done = trail(2, pace=1.0)
    now_ms = done[-1][0] + 5000 + silence_s * 1000
    earlier, later = (ask(scene(done, trail(2), now_ms=at))[1] for at in (now_ms, now_ms + more_s * 1000))
    assert median(later) >= median(earlier) - 2500
    assert earlier.inside_cap is not None
    assert later.inside_cap is not None
    assert later.inside_cap <= earlier.inside_cap + 0.02


def test_a_minute_of_silence_costs_more_than_a_minute() -> None:
    """A unit due in 3 s that has not come after 60 s moves the finish by more than the minute lost so far."""
    done = [*trail(2), (270_000, 123), (300_000, 163), (303_000, 164), (306_000, 165)]
    last_ms = done[-1][0]
    soon, late = (ask(scene(done, now_ms=at))[1] for at in (last_ms + 1000, last_ms + 61_000))
    assert median(late) - median(soon) > 57_000
    assert soon.scored_reps is not None
    assert late.heat_places == (1.0,)


def test_who_finished_is_certain_and_who_is_out_is_last_without_points() -> None:
    """A finish on the clock has no spread; an entry without a result has no finish, last place and no points."""
    asked = scene(trail(5, pace=0.9), trail(3), trail(2), now_ms=545_000, worth=(100, 90, 80))
    asked = change(change(asked, 1, finish_ms=540_123), 3, out=True)
    lanes = ask(asked)
    assert lanes[1].finish_ms is not None
    assert set(lanes[1].finish_ms.intervals.values()) == {(540_123.0, 540_123.0)}
    assert (lanes[1].inside_cap, lanes[1].heat_places[0]) == (1.0, 1.0)
    assert (lanes[3].finish_ms, lanes[3].inside_cap) == (None, 0.0)
    assert lanes[3].heat_places == (0.0, 0.0, 1.0)
    assert lanes[3].points.median == 0.0
    assert lanes[2].points.median == 90.0


def test_chances_add_up() -> None:
    """Every lane is on some place, and on average one lane is on each where nobody ties."""
    asked = scene(*(trail(2, pace=1 + 0.02 * n) for n in range(6)), now_ms=300_000, worth=(9, 5, 1))
    lanes = ask(replace(asked, overall=overall({f"e{n}": n for n in range(1, 7)}, (9, 5, 1))))
    for found in ("heat_places", "event_places", "overall_places"):
        table = np.array([getattr(lane, found) for lane in lanes.values()])
        assert table.sum(axis=1) == pytest.approx(np.ones(6))
    heat = np.array([lane.heat_places for lane in lanes.values()])
    assert heat.sum(axis=0) == pytest.approx(np.ones(6), abs=0.03)


def test_faster_lanes_have_better_chances() -> None:
    """An entry 5 % faster so far is the favourite, not the certain winner."""
    lanes = ask(scene(trail(2, pace=1.0), trail(2, pace=1.05), now_ms=252_000))
    assert 0.6 < lanes[1].heat_places[0] < 0.99


def test_at_the_cap_places_are_those_that_stand() -> None:
    """Once the cap has passed nobody moves: scored reps rank, and nobody is inside it any more."""
    lanes = ask(scene(trail(3), trail(4), trail(2), now_ms=CAP_MS + 1))
    assert [lane.heat_places.index(1.0) + 1 for lane in lanes.values()] == [2, 1, 3]
    assert [lane.inside_cap for lane in lanes.values()] == [0.0, 0.0, 0.0]
    assert [lane.scored_reps.median for lane in lanes.values() if lane.scored_reps] == [66, 88, 44]


def test_a_vacant_place_has_no_chance() -> None:
    """Once the cap has passed, the two who beat each other for a vacant second place are first and third."""
    asked = scene(trail(3), trail(4), now_ms=CAP_MS + 1)
    vacant = (("d", 2), ("d", 9), ("other", 1))
    lanes = ask(replace(asked, vacant=vacant))
    assert [lane.event_places for lane in lanes.values()] == [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0)]
    assert [lane.heat_places for lane in lanes.values()] == [(0.0, 1.0), (1.0, 0.0)]


def test_an_ended_heat_stands_still() -> None:
    """Officials who end the heat early end the count: places are as they stand then."""
    lanes = ask(scene(trail(3), trail(4), now_ms=500_000, ended_ms=500_000))
    assert [lane.heat_places.index(1.0) + 1 for lane in lanes.values()] == [2, 1]


def test_the_capped_rank_below_who_finishes() -> None:
    """A lane that cannot make the cap is behind one that can, and its count at the cap is forecast."""
    lanes = ask(scene(trail(4, pace=1.1), trail(2, pace=2.1), now_ms=530_000))
    assert lanes[1].heat_places[0] > 0.99
    assert lanes[2].inside_cap is not None
    assert lanes[2].inside_cap < 0.02
    assert lanes[2].scored_reps is not None
    assert 60 < lanes[2].scored_reps.median < 90


def test_a_finish_at_the_cap_itself_is_before_the_capped() -> None:
    """Even one to which a rival's penalty was added: the key of being capped with nothing to go is later still."""
    asked = change(scene([], [], now_ms=0), 2, penalty_ms=5_000)
    assert capped_scale(asked, None)[0] > asked.plan.workout.time_cap_ms + 5_000
    assert capped_scale(asked, 2_000) == (asked.plan.workout.time_cap_ms, 2_000)


def test_endless_work_is_forecast_in_reps() -> None:
    """At 120 s a round of 22 (common practice, no source) and 900 s in all, about 7½ rounds less fade come
    together; no finish is named.
    """
    asked = scene(trail(4, plan=ENDLESS), trail(3, plan=ENDLESS, pace=1.3), now_ms=481_000, plan=ENDLESS)
    lanes = ask(asked)
    assert lanes[1].finish_ms is None
    assert lanes[1].inside_cap is None
    assert lanes[1].scored_reps is not None
    assert 140 < lanes[1].scored_reps.median < 168
    assert lanes[1].heat_places[0] > 0.95


def test_penalties_count() -> None:
    """A minute's penalty makes the leader the likely second, and penalty reps are taken off the count."""
    asked = scene(trail(4), trail(4, pace=1.02), now_ms=492_000)
    assert ask(asked)[1].heat_places[0] > 0.6
    assert ask(change(asked, 1, penalty_ms=60_000))[1].heat_places[0] < 0.1
    endless = scene(trail(4, plan=ENDLESS), now_ms=481_000, plan=ENDLESS)
    plain, fined = (ask(each)[1].scored_reps for each in (endless, change(endless, 1, penalty_reps=10)))
    assert plain is not None
    assert fined is not None
    assert plain.median - fined.median == 10


def test_a_penalty_for_reps_left_ranks_the_capped_by_time() -> None:
    """With a second for each rep left at the cap, a capped lane ranks before one that finishes with a larger fine."""
    plan = Plan(replace(workout(kind="for_time_with_penalty", cap_ms=700_000), rules=CapPenalty(each_ms=1000)), laps=1)
    asked = scene(trail(5), trail(4, pace=1.15), now_ms=700_001, plan=plan)
    asked = change(asked, 1, finish_ms=600_000)
    assert ask(asked)[1].heat_places[0] == 1.0
    assert ask(change(asked, 1, penalty_ms=150_000))[2].heat_places[0] == 1.0


def test_history_is_believed_before_the_start() -> None:
    """An entry known to be 10 % faster than the field is forecast to finish earlier, and is the favourite."""
    asked = change(scene([], [], now_ms=0), 1, history=History(log_pace=-0.1, sd=0.03))
    lanes = ask(asked)
    assert median(lanes[1]) < 0.94 * median(lanes[2])
    assert lanes[1].heat_places[0] > 0.7


def test_an_earlier_heat_teaches_the_next() -> None:
    """When the expected times are 30 % off, the next heat's forecast before its start is nearer the truth."""
    first = scene(*(trail(5, pace=1.3 + 0.02 * n) for n in range(6)), now_ms=CAP_MS)
    taught = forecast(first, seed=1, draws=200)
    fresh, informed = (ask(scene([], [], now_ms=0, learned=each))[1] for each in (None, taught_by([first])))
    assert abs(median(informed) - 1.35 * 600_000) < 0.5 * abs(median(fresh) - 1.35 * 600_000)
    assert taught.log_pace["e1"][0] < taught.log_pace["e6"][0]


def test_what_earlier_heats_teach_comes_nearer_and_surer_heat_by_heat() -> None:
    """Each further heat that is a third slower than expected moves the level on and leaves less of it unknown."""
    slow = scene(*(trail(5, pace=1.33 + 0.02 * n) for n in range(6)), now_ms=CAP_MS)
    assert taught_by([]) is None
    one, two, three = (taught_by([slow] * count) for count in (1, 2, 3))
    assert one is not None and two is not None and three is not None
    assert [each.heats for each in (one, two, three)] == [1, 2, 3]
    truth = math.log(1.38)
    offs = [abs(float(each.mean[0]) - truth) for each in (one, two, three)]
    assert offs[0] > offs[1] > offs[2]
    assert one.variance[0, 0] > two.variance[0, 0] > three.variance[0, 0]
    # The next field's level is less sure than what is known of the workout, by what two fields differ.
    assert three.of_a_heat[0, 0] == pytest.approx(three.variance[0, 0] + three.between[0])


HEATS = st.lists(
    st.lists(st.tuples(st.floats(0.02, 30), st.integers(0, 5)), min_size=1, max_size=4), min_size=1, max_size=4
)
"""Earlier heats: the pace of each lane, and after how many rounds it stopped."""


@pytest.mark.slow
@given(HEATS)
def test_whatever_earlier_heats_were_like_no_variance_is_negative(heats: list[list[tuple[float, int]]]) -> None:
    """After absurd paces and lanes that stopped, every heat leaves less unknown than before, and the next is forecast.

    A negative variance once came from a heat that was noisier than the best of the settings.
    """
    before, found = believe(legs_of(PLAN), Prior()).variance, []
    for lanes in heats:
        trails = [trail(rounds, pace=pace) for pace, rounds in lanes]
        found.append(scene(*trails, now_ms=max((each[-1][0] for each in trails if each), default=0) + 1))
        taught = taught_by(found)
        assert taught is not None
        assert np.linalg.eigvalsh(taught.variance).min() > 0
        assert np.linalg.eigvalsh(before - taught.variance).min() > -1e-9
        assert len(ask(replace(found[-1], learned=taught))) == len(lanes)
        before = taught.variance


def test_fields_of_one_workout_differ_in_their_level_most() -> None:
    """Before the first heat the level of the next field is taken to differ by six tenths of what is unknown, the rest
    by a quarter: docs/forecast-model.md.
    """
    taught = believe(legs_of(PLAN), Prior())
    unknown = np.sqrt(np.diagonal(taught.variance))
    assert np.sqrt(taught.between) / unknown == pytest.approx([0.6] + [0.25] * (len(unknown) - 1))


def test_heats_without_one_count_or_without_lanes_teach_nothing() -> None:
    """A lesson is asked of whatever heats there were: those that the model cannot read are passed over."""
    lift, race = (fold(each, HEAT, [], 900_000) for each in (lift_work(lanes=2), competition(lanes=2)))
    assert lesson([]) is None
    assert lesson([lift]) is None
    assert lesson([replace(race, lanes={})]) is None
    found = lesson([lift, race])
    assert found is not None
    assert found.heats == 1


def test_races_without_a_model_stay_as_they_stand() -> None:
    """For a format unknown to it the places that stand are given for certain, and no times."""
    plain = Plan(workout(kind="plain"), laps=1)
    asked = scene([], [], now_ms=0, plan=plain, worth=(10, 5), overall=overall({"e1": 1, "e2": 9}, (10, 5)))
    with plugged("plain", "core.plain_format"):
        lanes = ask(change(asked, 1, place=2))
        nobody = forecast(replace(asked, runners=[]), seed=1)
    assert [lane.heat_places for lane in lanes.values()] == [(0.0, 1.0), (1.0, 0.0)]
    assert [lane.overall_places.index(1.0) + 1 for lane in lanes.values()] == [2, 1]
    assert lanes[1].finish_ms is None
    assert nobody == Forecast(lanes={}, learned=None, log_pace={})


def test_event_and_standing_count_the_other_heats() -> None:
    """Results of an earlier heat move the place in the event, the points and the overall standing; others wait."""
    asked = change(scene(trail(5), now_ms=CAP_MS, worth=(100, 90, 80, 70)), 1, finish_ms=600_000)
    others = [
        Result(entry="a", division="d", finish_ms=550_000),
        Result(entry="b", division="d", scored_reps=100),
        Result(entry="c", division="d"),
        Result(entry="m", division="men", finish_ms=500_000),
    ]
    standing = overall({"e1": 200, "a": 195, "b": 300, "c": 291}, (100, 90, 80, 70))
    lane = ask(replace(asked, others=others, overall=standing))[1]
    assert lane.event_places == (0.0, 1.0, 0.0)
    assert lane.points.median == 90.0
    # b 300 + 80, a 195 + 100, c 291 and waiting, e1 200 + 90.
    assert lane.overall_places == (0.0, 0.0, 0.0, 1.0)


def test_overall_places_go_by_the_rules_of_the_standing() -> None:
    """Level on points the place in the event decides by default; where ties are shared, both are first."""
    asked = change(scene(trail(5), trail(4), now_ms=CAP_MS, worth=(100, 90)), 1, finish_ms=600_000)
    before = {"e1": 190, "e2": 200}
    shared = overall(before, (100, 90), rules=StandingRules(ties=()))
    assert ask(replace(asked, overall=overall(before, (100, 90))))[2].overall_places == (0.0, 1.0)
    assert ask(replace(asked, overall=shared))[2].overall_places == (1.0, 0.0)


def test_who_shares_a_place_earns_the_mean_where_the_rules_say_so() -> None:
    """Two capped with the same count share first: 95 each by the mean of 100 and 90, and 5 more keep the lead."""
    asked = scene(trail(4), trail(4), now_ms=CAP_MS, worth=(100, 90))
    mean = overall({"e1": 5, "e2": 0}, (100, 90), ties=TiePolicy.MEAN)
    lanes = ask(replace(asked, overall=mean))
    assert [lane.points.median for lane in lanes.values()] == [95.0, 95.0]
    assert [lane.overall_places for lane in lanes.values()] == [(1.0, 0.0), (0.0, 1.0)]


def test_equal_counts_are_parted_by_the_tie_break_mark() -> None:
    """Three capped with 66 reps: who passed the end of round two at 200 s, at 205 s (an earlier heat), at 210 s."""
    plan = Plan(workout(cap_ms=420_000, tie_break=Mark(round=2, station=4)), laps=1)
    one, two = [(200_000, 122), (300_000, 183)], [(210_000, 122), (290_000, 183)]
    asked = scene(one, two, now_ms=420_000, plan=plan)
    other = Result(entry="a", division="d", scored_reps=66, tie_break_ms=205_000)
    lanes = ask(replace(asked, others=[other]))
    assert [lane.heat_places for lane in lanes.values()] == [(1.0, 0.0), (0.0, 1.0)]
    assert [lane.event_places.index(1.0) + 1 for lane in lanes.values()] == [1, 3]


def test_points_go_by_the_field_of_the_division() -> None:
    """A table by formula pays a field of two, not one of the larger division: 2 and 1."""
    asked = change(scene(trail(5), trail(4), now_ms=CAP_MS, worth=(20, 19)), 1, finish_ms=600_000)
    contenders = (Contender(entry="e1"), Contender(entry="e2"))
    by_field = overall_of(NeededRace(contenders=contenders, table=FormulaTable(Formula("field + 1 - place"))))
    lanes = ask(replace(asked, overall={"d": by_field}))
    assert [lane.points.median for lane in lanes.values()] == [2.0, 1.0]


def test_too_little_work_earns_nothing() -> None:
    """With a least of a hundred reps the one on 88 is second for nothing: 95 in hand are not enough."""
    asked = change(scene(trail(5), trail(4), now_ms=CAP_MS, worth=(100, 90), least=100), 1, finish_ms=600_000)
    lanes = ask(replace(asked, overall=overall({"e1": 0, "e2": 95}, (100, 90))))
    assert lanes[2].heat_places == (0.0, 1.0)
    assert lanes[2].overall_places == (0.0, 1.0)


def test_who_does_too_little_in_a_first_event_shares_the_last_place_overall() -> None:
    """With a least of a hundred, 88 and 66 reps are second and third in the event, and nothing in the standing."""
    asked = change(scene(trail(5), trail(4), trail(3), now_ms=CAP_MS, least=100), 1, finish_ms=600_000)
    lanes = ask(replace(asked, overall=overall(dict.fromkeys(("e1", "e2", "e3"), 0), (100, 90, 80))))
    assert lanes[3].event_places == (0.0, 0.0, 1.0)
    assert lanes[2].overall_places == lanes[3].overall_places == (0.0, 1.0, 0.0)


def test_divisions_are_ranked_apart() -> None:
    """Two divisions in one heat: each lane is first among its own."""
    asked = change(scene(trail(3), trail(2), now_ms=400_000, worth=(10, 5)), 2, division="men")
    lanes = ask(asked)
    assert [lane.heat_places for lane in lanes.values()] == [(1.0,), (1.0,)]
    assert [lane.event_places for lane in lanes.values()] == [(1.0,), (1.0,)]


def test_a_heat_from_facts() -> None:
    """The state of a heat becomes a scene: trails, the judge's finish, withdrawals."""
    one, two, three = Pad("a", 1), Pad("b", 2), Pad("c", 3)
    facts: list[Fact] = [fact for n in range(5) for fact in full_round(one, n * 22_000)] + [one.finish(110_400)]
    facts += [*full_round(two, 0, step_ms=4000), *full_round(three, 0), three.withdraw(50_000)]
    asked = scene_of(fold(competition(), HEAT, [Pad("starter").start(), *facts], 120_000), worth=(3, 2, 1))
    assert [runner.finish_ms for runner in asked.runners] == [110_400, None, None]
    assert [runner.out for runner in asked.runners] == [False, False, True]
    lanes = ask(asked)
    assert [lane.heat_places.index(1.0) + 1 for lane in lanes.values()] == [1, 2, 3]


def test_reading_a_trail() -> None:
    """Complete stations, the units of the one in progress, the time since, as worked by hand."""
    legs = legs_of(PLAN)
    found = read(legs, [[(10_000, 1), (40_000, 41), (49_000, 42), (52_000, 44)], []])
    assert found.spent_ms[0, :2].tolist() == [10_000, 30_000]
    assert np.isnan(found.spent_ms[0, 2:]).all()
    assert (found.current.tolist(), found.into.tolist()) == ([2, 0], [3, 0])
    assert (found.part_ms.tolist(), found.last_ms.tolist()) == ([12_000, 0], [52_000, 0])
    assert [bool(share) for share in found.transition] == (~legs.block & (legs.amount > 1)).tolist()


@given(st.integers(0, 305))
def test_scored_reps_as_the_plan_counts_them(done: int) -> None:
    """Scored reps of drawn units are those of the plan, blocks only when complete."""
    assert scored(legs_of(PLAN), np.array([float(done)]))[0] == PLAN.scored(done)


@pytest.mark.parametrize("plan", [PLAN, ENDLESS])
def test_the_table_of_counts_agrees_with_interpolation(plan: Plan) -> None:
    """What is looked up is what `numpy.interp` finds between the legs, half a cell earlier or later at most."""
    legs, prior = legs_of(plan), Prior()
    trails = [trail(2)[: 30 + 9 * lane] for lane in range(5)]
    reading = read(legs, trails)
    learned = learn(legs, reading, prior, taught=believe(legs, prior))[0]
    ends_ms = float(CAP_MS) if plan.laps is None else np.inf
    outlook = look_ahead(legs, reading, learned, prior, clock=(200_000.0, ends_ms))
    rng = np.random.default_rng(3)
    for lane, current in enumerate(reading.current.tolist()):
        ahead = np.cumsum(outlook.ahead_ms[lane, current:])
        spare = np.append(rng.uniform(0, ahead[-1], 500), -1.0).astype(np.float32)
        before = legs.done_after[current] - legs.amount[current] + outlook.next_units[lane]
        knots = np.append(0, ahead), np.append(before, legs.done_after[current:])
        found = scored_at(legs, outlook, np.full(501, lane), spare)
        cell = 0.51 * ahead[-1] / CELLS
        low, high = (scored(legs, np.interp(spare[:500] + shift, *knots)) for shift in (-cell, cell))
        assert ((low <= found[:500]) & (found[:500] <= high)).all()
        assert found[500] == -1
        assert len(set(found.tolist())) > 10


def test_the_levels_of_a_range_are_numpys() -> None:
    """Of 4,001 shuffled draws the median and the ends of 50, 80 and 95 % are those of `numpy.quantile`, nearest."""
    drawn = np.random.default_rng(5).permutation(np.arange(4_001)).astype(np.float32) ** 2
    [found] = _spreads(drawn[None, :])
    ends = {
        level: tuple(np.quantile(drawn, (0.5 - level / 200, 0.5 + level / 200), method="nearest"))
        for level in (50, 80, 95)
    }
    assert found.median == np.quantile(drawn, 0.5, method="nearest")
    assert found.intervals == ends


def test_what_a_range_of_whole_steps_holds_is_counted() -> None:
    """Of ten draws the four in five reach from the second to the ninth; what equals its ends is in it too."""
    counts = np.array([[0, 1, 1, 2, 3, 4, 5, 6, 6, 9], [3] * 10], dtype=np.float32)
    for found in (_spreads(counts, whole=True), _count_spreads(counts)):
        assert [each.four_in_five for each in found] == [(1, 6), (3, 3)]
        assert [each.holds for each in found] == [0.8, 1.0]


@pytest.mark.parametrize("most", [9, 40_000])
@pytest.mark.parametrize("sure", [0, 20, *range(35, 46)])
def test_counting_gives_the_spreads_that_sorting_gives(sure: int, most: int) -> None:
    """Counts of any size, so many of 45 of them the most there can be, have the same median, ranges and shares either
    way; ours beside ours, no source."""
    drawn = np.random.default_rng(sure).integers(0, most, (5, 45)).astype(np.float32)
    drawn[:, :sure] = most
    assert _count_spreads(drawn) == _spreads(drawn, whole=True)


@pytest.mark.slow
@given(st.lists(st.lists(st.integers(0, 4), min_size=3, max_size=3), min_size=1, max_size=7))
def test_drawn_places_agree_with_scipy(keys: list[list[int]]) -> None:
    """Places are `scipy.stats.rankdata(..., method="min")` in every draw, and their shares count them."""
    from scipy import stats  # takes a second to import

    table = np.array(keys, dtype=np.float32)
    found = places(table)
    assert found.tolist() == stats.rankdata(table, method="min", axis=0).astype(int).tolist()
    shares = place_chances(found, len(keys))
    assert shares.tolist() == [[row.count(place) / 3 for place in range(1, len(keys) + 1)] for row in found.tolist()]


@pytest.mark.slow
@pytest.mark.parametrize("silence_ms", [0, 4000, 20_000])
def test_the_wait_is_log_logistic_given_the_silence(silence_ms: int) -> None:
    """Drawn waits follow the mixture of two `scipy.stats.fisk` (log-logistic) laws, given how long they have lasted."""
    from scipy import stats  # takes a second to import

    asked = scene([*trail(2), (243_000, 123)], now_ms=243_000 + silence_ms)
    legs, prior = legs_of(PLAN), Prior(leaving=0.0, breaking=0.0)
    reading = read(legs, [asked.runners[0].trail])
    learned = learn(legs, reading, prior, taught=believe(legs, prior))[0]
    outlook = look_ahead(legs, reading, learned, prior, clock=(float(asked.now_ms), np.inf))
    waits = play_each([outlook], [1.0], now_ms=0.0, seed=3, draws=40_000).next_ms[0]
    wait = outlook.wait

    def left(t: np.ndarray) -> np.ndarray:
        usual = stats.fisk.sf(t, wait.usual_k[0], scale=wait.usual_ms[0])
        return np.asarray(0.94 * usual + 0.06 * stats.fisk.sf(t, wait.rest_k[0], scale=wait.rest_ms[0]))

    now = left(np.array([float(silence_ms)]))
    assert wait.left == pytest.approx(now, rel=1e-6)
    law = 1 - left(silence_ms + waits.astype(np.float64)) / now
    assert stats.kstest(law, "uniform").pvalue > 0.01


@pytest.mark.parametrize(
    ("usual_ms", "left", "share_left", "stopping"),
    [(4_000, 1, 0, 0.2), (4_000, 1, 0.5, 0.4), (4_000, 0.25, 0, 0.5), (4_000, 0.25, 0.5, 0.625), (90_000, 0, 1, 1)],
)
def test_silence_makes_it_likelier_that_a_lane_has_stopped(
    usual_ms: float, left: float, share_left: float, stopping: float
) -> None:
    """Half leave in the course of the work, four tenths of which the usual wait takes: two in ten during this wait.

    By Bayes' rule that is one in two once a quarter of those who go on would still be silent (0.2 to 0.8 times 0.25).
    Whoever has not stopped leaves in the half that is left in one case of four.
    """
    one = np.array([1.0])
    wait = Wait(
        usual_ms=usual_ms * one, usual_k=one, rest_ms=one, rest_k=one, rest_chance=one, waited_ms=one, left=left * one
    )
    found = _stopping(wait, Prior(leaving=0.5), share_left * one, 10_000)
    assert found == pytest.approx([stopping])


def test_each_way_of_seeing_a_heat_gets_its_share_of_the_draws() -> None:
    """Of 400 draws the first quarter are those of a lane with a round to go, the others those of one with four."""
    legs, prior, outlooks = legs_of(PLAN), Prior(leaving=0.0, breaking=0.0), []
    for rounds in (4, 1):
        reading = read(legs, [trail(rounds)])
        learned = learn(legs, reading, prior, taught=believe(legs, prior))[0]
        outlooks.append(look_ahead(legs, reading, learned, prior, clock=(480_000.0, np.inf)))
    drawn = play_each(outlooks, [0.25, 0.75], now_ms=480_000, seed=1, draws=400).finish_ms[0]
    assert (drawn < 780_000).tolist() == [True] * 100 + [False] * 300


def test_a_setting_moves_all_of_a_lanes_own_ways_but_its_level() -> None:
    """With variances of one the precision is the noise's, over the square of how many times as far lanes go."""
    prior, legs, size = Prior(late_sd=0.0), legs_of(PLAN), LANE_BASE
    _, precision = _by_setting(prior, believe(legs, prior), np.ones((1, size)))
    for each, found in zip(SETTINGS, precision[:, 0], strict=True):
        own = each.noise_sd**2 / each.ways**2
        assert np.diag(found) == pytest.approx([each.noise_sd**2, *[own] * (size - 1)])


def test_the_sum_of_what_is_left_keeps_its_mean() -> None:
    """The one log-normal that stands for all that is left has the mean of the sum of its legs (by simulation)."""
    legs, prior = legs_of(PLAN), Prior(leaving=0.0, breaking=0.0)
    reading = read(legs, [trail(1), trail(1, pace=1.1)])
    learned = learn(legs, reading, prior, taught=believe(legs, prior))[0]
    outlook = look_ahead(legs, reading, learned, prior, clock=(130_000.0, np.inf))
    fitted, rng, n = learned.fit, np.random.default_rng(5), 40_000
    sigma = fitted.field.noise
    beta = rng.multivariate_normal(fitted.field.mean, sigma**2 * fitted.field_spread, n)
    own = rng.multivariate_normal(np.zeros(learned.z.shape[2]), sigma**2 * fitted.spread[0], n)
    lane = fitted.mean[0] + own - (beta - fitted.field.mean) @ fitted.pull[0].T
    log_leg = beta @ learned.x[0].T + lane @ learned.z[0].T
    log_leg += sigma / np.sqrt(learned.leg_weight) * rng.standard_normal(log_leg.shape)
    whole = (legs.expected_ms * np.exp(log_leg))[:, 5:].sum(axis=1)
    shared = float((outlook.shared[0] ** 2).sum())
    spread = outlook.sigma * np.sqrt(outlook.own_sd[0] ** 2 + shared)
    assert np.exp(outlook.log_ms[0]) == pytest.approx(np.median(whole), rel=0.02)
    assert spread == pytest.approx(np.log(whole).std(), rel=0.06)


@pytest.mark.parametrize(("reps", "place"), [(4, 1), (5, 2)])
def test_less_than_the_least_work_in_another_heat_earns_nothing(reps: int, place: int) -> None:
    """Ten points up, an entry that is out stays ahead of a rival that did four of the five reps of the minimum work."""
    others = [Result(entry="e2", division="d", scored_reps=reps)]
    standing = overall({"e1": 10, "e2": 0}, (20, 15), out=("e1",))
    asked = scene([], now_ms=200_000, plan=ENDLESS, least=5, others=others, overall=standing)
    lane = ask(change(asked, 1, out=True))[1]
    assert lane.overall_places[place - 1] == 1


PENALISED = Plan(replace(workout(kind="for_time_with_penalty"), rules=CapPenalty(each_ms=1000)), laps=1)


@pytest.mark.parametrize("plan", [PLAN, PENALISED, ENDLESS])
def test_an_answer_holds_plain_numbers(plan: Plan) -> None:
    """Whatever is said of a lane can be written as JSON: no numbers of numpy's own."""
    before, worth = {"e1": 100, "e2": 90}, (20, 15)
    asked = scene(trail(2), trail(1), now_ms=200_000, plan=plan, overall=overall(before, worth), worth=worth)
    for lane in ask(asked).values():
        told = orjson.loads(orjson.dumps(asdict(lane), option=orjson.OPT_NON_STR_KEYS))
        assert (told["lane"], told["inside_cap"]) == (lane.lane, lane.inside_cap)


def test_endless_work_is_looked_at_no_farther_than_time_may_reach() -> None:
    """Of 700 s that are left 1.6 times as much work is looked at, to the end of a station; of fixed work all of it."""
    prior, trails = Prior(), [trail(2)[:60] for _ in range(3)]
    shown = []
    for plan, ends_ms in ((ENDLESS, float(CAP_MS)), (PLAN, np.inf)):
        legs = legs_of(plan)
        reading = read(legs, trails)
        learned = learn(legs, reading, prior, taught=believe(legs, prior))[0]
        outlook = look_ahead(legs, reading, learned, prior, clock=(200_000.0, ends_ms))
        shown.append(outlook.ahead_ms > 0)
        if plan is ENDLESS:
            whole_ms = outlook.ahead_ms.sum(axis=1)
            assert ((whole_ms > 700_000) & (whole_ms < 1.8 * 700_000)).all()
    assert not shown[0][:, -1].any()
    assert shown[1][:, -1].all()


def test_a_forecast_that_goes_on_from_the_one_before_is_the_same_as_a_fresh_one() -> None:
    """In a recorded heat, one fact in ten of which comes up to a minute late, nothing but the cost depends on what is
    handed on."""
    late, handed_on = random.Random(3), dict[str, Any]()
    facts = sorted(
        recorded("saltmarsh-women-2"), key=lambda fact: fact.at_ms + (late.random() < 0.1) * late.randrange(60_000)
    )
    book = CompetitionBook(competition_of("saltmarsh"))
    for number, fact in enumerate(facts):
        book.add(fact)
        if number % 90 == 5:
            asked = scene_of(book.at_last_facts().heats[fact.heat].settled)
            found, fresh = (forecast(each, seed=1, draws=40) for each in (replace(asked, handed_on=handed_on), asked))
            assert (found.lanes, found.log_pace) == (fresh.lanes, fresh.log_pace)
    assert handed_on.keys() == {"trails", "transition", "believed", "lanes"}
