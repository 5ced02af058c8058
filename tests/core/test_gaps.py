"""Gaps: against published records, by hand, and their laws over random trails."""

from __future__ import annotations

import csv
import gzip
import importlib.util
import random
from pathlib import Path as FilePath

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from core.folding import fold
from core.samples import HEAT, Pad, competition, full_round, rounds_of_22, workout
from tallywire.core.facts import Fact, HoldPlaced, PenaltyGiven
from tallywire.core.fold.heat import HeatState
from tallywire.core.gaps.gaps import (
    Gap,
    behind_at,
    gap_at,
    ghost_gap,
    heat_gaps,
    intervals,
    work_ms,
)
from tallywire.core.gaps.path import Path, Precision, lane_path, touches_block
from tallywire.core.model.workout import Plan, Station
from tallywire.core.views.call_work import work_frames
from tallywire.core.views.gaps import gap_frame

# km 5, 10, 15, 20, 21.0975, 25, 30, 35, 40, 42.195 in metres, and the published seconds at these marks.
MARATHON_M = (5000, 10000, 15000, 20000, 21098, 25000, 30000, 35000, 40000, 42195)
FINISHER_1_S = (925, 1828, 2744, 3675, 3875, 4619, 5581, 6499, 7373, 7777)
FINISHER_2_S = (924, 1827, 2744, 3675, 3875, 4619, 5581, 6499, 7394, 7798)


def distance_plan(units: int) -> Plan:
    """Plain distance, credited by the unit."""
    return Plan(workout(rounds=((Station(movement="ride", amount=units, unit="metres"),),)), laps=1)


def plan_of_22() -> Plan:
    """Five rounds of 22 (common practice, no source)."""
    return Plan(workout(), laps=1)


def cycling_trail() -> list[tuple[int, int]]:
    """(ms, centimetres) of the ride in bokeh_sampledata 2026.1 `cycling.csv.gz`, where the distance rises."""
    spec = importlib.util.find_spec("bokeh_sampledata")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("needs: pip install --no-deps bokeh_sampledata==2026.1")
    file = FilePath(spec.submodule_search_locations[0]) / "_data" / "cycling.csv.gz"
    with gzip.open(file, "rt", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    trail: list[tuple[int, int]] = []
    for row in rows:
        hours, minutes, seconds = row["time"].split()[-1].split(":")
        at_ms = round(((int(hours) * 60 + int(minutes)) * 60 + float(seconds)) * 1000)
        done = round(float(row["distance"]) * 100)
        if not trail or done > trail[-1][1]:
            trail.append((at_ms, done))
    return trail


@pytest.mark.slow
@pytest.mark.parametrize("delay_s", [1, 7, 60])
def test_a_ride_delayed_by_k_seconds_is_k_behind_throughout(delay_s: int) -> None:
    """A copy of a recorded ride (bokeh_sampledata cycling, 37,150.95 m) delayed by k s is k s behind at every moment.

    At facts the gap is exact; between them it is linear; while the rider stands still it stays k.
    """
    trail = cycling_trail()
    assert trail[-1][1] == 3_715_095
    plan = distance_plan(trail[-1][1])
    first = Path(plan, trail)
    second = Path(plan, [(at_ms + delay_s * 1000, done) for at_ms, done in trail], start_ms=delay_s * 1000)
    moments = random.Random(4).choices(range(second.steps[1][0], second.steps[-1][0]), k=2000)
    gaps = [gap_at(second, first, at_ms) for at_ms in moments]
    assert all(gap is not None and abs(gap.behind_ms - delay_s * 1000) <= 1 for gap in gaps)
    at_facts = [gap_at(second, first, at_ms) for at_ms, _ in second.steps[1:]]
    assert {(gap.behind_ms, gap.precision) for gap in at_facts if gap} == {(delay_s * 1000, Precision.EXACT)}


def marathon() -> tuple[Path, Path]:
    """The two finishers of a published marathon as paths."""
    plan = distance_plan(MARATHON_M[-1])
    trails = ([(s * 1000, m) for s, m in zip(times, MARATHON_M, strict=True)] for times in (FINISHER_1_S, FINISHER_2_S))
    first, second = (Path(plan, trail) for trail in trails)
    return first, second


@pytest.mark.parametrize(("at_s", "behind_s"), [(7200, 16.45), (7500, 21.00)])
def test_gap_between_two_marathon_finishers(at_s: int, behind_s: float) -> None:
    """Linear between the published marks the second finisher is 16.45 s behind at 7,200 s and 21.00 s at 7,500 s."""
    first, second = marathon()
    gap = gap_at(second, first, at_s * 1000)
    assert gap is not None
    assert gap.behind_ms / 1000 == pytest.approx(behind_s, abs=0.005)
    assert gap.precision is Precision.LINEAR


def test_gap_at_the_marathon_marks_is_the_difference_of_published_times() -> None:
    """At 35 km the two are level, at 40 km and the finish 21 s apart, exactly."""
    first, second = marathon()
    gaps = [behind_at(second, first, point) for point in (35000, 40000, 42195)]
    assert [(gap.behind_ms, gap.precision) for gap in gaps if gap] == [
        (0, Precision.EXACT),
        (21_000, Precision.EXACT),
        (21_000, Precision.EXACT),
    ]


def test_gap_and_interval_from_finish_times() -> None:
    """Gap is the time less the winner's, interval the time less that of the one ahead, in integer ms."""
    assert intervals([702_318, 702_319, 750_000]) == [(0, 0), (1, 1), (47_682, 47_681)]
    assert intervals([]) == []


def test_inside_a_block_the_gap_is_that_of_the_last_mark() -> None:
    """Units counted inside a block of which the other is known at its ends only: the gap at the block's start."""
    plan = plan_of_22()
    leader = Path(plan, [(1000, 1), (9000, 41)])
    chaser = Path(plan, [(3000, 1), (8000, 21)])
    assert gap_at(chaser, leader, 8000) == Gap(behind_ms=2000, precision=Precision.AT_LAST_MARK, point=1)


def test_between_two_facts_outside_a_block_the_gap_is_linear() -> None:
    """Five units in one fact are spread evenly: the third of them is reached after three fifths of the time."""
    plan = plan_of_22()
    leader = Path(plan, [(1000, 1), (9000, 41), (14_000, 46)])
    chaser = Path(plan, [(3000, 1), (12_000, 41), (16_000, 44)])
    assert gap_at(chaser, leader, 16_000) == Gap(behind_ms=4000, precision=Precision.LINEAR, point=44)


def test_a_silent_chaser_falls_back() -> None:
    """Once the other passed this one's next rep longer ago than the last gap, the gap is at least that, and grows."""
    plan = plan_of_22()
    leader = Path(plan, [(1000, 1), (9000, 41), (10_000, 42), (11_000, 43)])
    chaser = Path(plan, [(3000, 1), (11_000, 41)])
    for at_ms in (11_500, 12_000):
        assert gap_at(chaser, leader, at_ms) == Gap(behind_ms=2000, precision=Precision.EXACT, point=41)
    assert gap_at(chaser, leader, 15_000) == Gap(behind_ms=5000, precision=Precision.AT_LEAST, point=42)


def test_who_was_ahead_is_level_once_the_other_does_the_next_rep() -> None:
    """At the rep before this one was a second ahead; the other does the next at this very moment: nothing behind."""
    plan = plan_of_22()
    other = Path(plan, [(1000, 1), (9000, 41), (10_000, 42)])
    path = Path(plan, [(1000, 1), (8000, 41)])
    assert gap_at(path, other, 9_999) == Gap(behind_ms=-1000, precision=Precision.EXACT, point=41)
    assert gap_at(path, other, 10_000) == Gap(behind_ms=0, precision=Precision.AT_LEAST, point=42)


def test_stretches_that_touch_a_block() -> None:
    """A stretch is blind when any part of it lies in a block, whatever its ends; the reps after it are not."""
    plan = plan_of_22()
    assert [touches_block(plan, *span) for span in ((0, 1), (0, 2), (1, 41), (40, 42), (41, 61), (60, 63))] == [
        False,
        True,
        True,
        True,
        False,
        True,
    ]


def test_work_counts_expected_time() -> None:
    """A rep of a station of one is worth 30 s here, half a block 15 s, and two whole rounds 240 s."""
    plan = plan_of_22()
    assert [work_ms(plan, done) for done in (0, 1, 21, 41, 122, plan.total_done or 0)] == [
        0,
        30_000,
        45_000,
        60_000,
        240_000,
        600_000,
    ]


def test_work_goes_on_from_lap_to_lap() -> None:
    """Rounds that begin again: a lap of 22 is 120 s, and a rep of the third lap comes 30 s after two of them."""
    plan = Plan(workout(kind="amrap", rounds=rounds_of_22(1)), laps=None)
    lap_ms = work_ms(plan, plan.lap_done)
    assert lap_ms == 120_000
    assert work_ms(plan, 2 * plan.lap_done + 1) == 2 * lap_ms + work_ms(plan, 1) == 270_000


def heat(*facts: Fact, clock_ms: int, lanes: int = 3) -> HeatState:
    """Fold facts into a heat of five rounds of 22 (common practice, no source)."""
    return fold(competition(lanes=lanes), HEAT, [Pad("starter").start(), *facts], clock_ms)


def test_gaps_of_a_heat() -> None:
    """The third lane trails the leader and the next place in reps, in work and in seconds; the leader trails nobody."""
    one = full_round(Pad("a", 1), 0)
    two = full_round(Pad("b", 2), 4000)
    three = full_round(Pad("c", 3), 6000)[:12]
    gaps = heat_gaps(heat(*one, *two, *three, clock_ms=18_000))
    assert (gaps[1].to_leader, gaps[1].to_next) == (None, None)
    leader, following = gaps[3].to_leader, gaps[3].to_next
    assert leader is not None
    assert following is not None
    assert (leader.lane, following.lane) == (1, 2)
    assert (leader.reps, leader.work_ms) == (10, 30_000)
    assert leader.seconds == Gap(behind_ms=6000, precision=Precision.EXACT, point=51)
    assert following.seconds == Gap(behind_ms=2000, precision=Precision.EXACT, point=51)


def test_finishers_are_apart_by_their_finish_times() -> None:
    """Between two who finished the gap is the difference of the finish times, judge's calls included."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [fact for n in range(5) for fact in full_round(one, n * 22_000)] + [one.finish(110_400)]
    facts += [fact for n in range(5) for fact in full_round(two, n * 22_000 + 1500)] + [two.finish(111_777)]
    gap = heat_gaps(heat(*facts, clock_ms=500_000))[2].to_leader
    assert gap is not None
    assert gap.seconds == Gap(behind_ms=1377, precision=Precision.EXACT, point=305)


def test_ghost_of_the_best_earlier_heat() -> None:
    """Against the ghost a lane is ahead (negative) or behind, and silence lets it fall back here too."""
    plan = plan_of_22()
    ghost = Path(plan, [(2000, 1), (8000, 41)])
    lane = Path(plan, [(1500, 1)])
    assert ghost_gap(lane, ghost, 1500) == Gap(behind_ms=-500, precision=Precision.EXACT, point=1)
    assert ghost_gap(lane, ghost, 9000) == Gap(behind_ms=1000, precision=Precision.AT_LEAST, point=41)


@st.composite
def unit_trails(draw: st.DrawFn) -> list[tuple[int, int]]:
    """Random trails over 60 units, the facts of one to three units each."""
    at_ms, done, trail = 0, 0, []
    while done < 60 and draw(_MORE):
        at_ms += draw(_LATER_MS)
        done = min(60, done + draw(_UNITS))
        trail.append((at_ms, done))
    return trail


_MORE, _LATER_MS, _UNITS = st.integers(0, 19), st.integers(1, 30_000), st.integers(1, 3)


@given(unit_trails(), st.integers(0, 400_000))
def test_nobody_is_behind_himself(trail: list[tuple[int, int]], at_ms: int) -> None:
    """The gap to oneself is 0 at any time."""
    path = Path(distance_plan(60), trail)
    gap = gap_at(path, path, at_ms)
    assert gap is not None
    assert gap.behind_ms == 0


@given(unit_trails(), unit_trails(), unit_trails(), st.data())
def test_gaps_add_up_down_the_order(
    one: list[tuple[int, int]], two: list[tuple[int, int]], three: list[tuple[int, int]], data: st.DataObject
) -> None:
    """At a point all three passed, third to first is third to second plus second to first, to the millisecond."""
    plan = distance_plan(60)
    a, b, c = (Path(plan, trail) for trail in (one, two, three))
    point = data.draw(st.integers(0, min(path.steps[-1][1] for path in (a, b, c))))
    ba, cb, ca = behind_at(b, a, point), behind_at(c, b, point), behind_at(c, a, point)
    assert ba is not None
    assert cb is not None
    assert ca is not None
    assert ca.behind_ms == cb.behind_ms + ba.behind_ms


@pytest.mark.slow
@given(unit_trails(), unit_trails(), st.integers(0, 400_000))
def test_who_has_less_work_is_never_ahead_in_time(
    one: list[tuple[int, int]], two: list[tuple[int, int]], later_ms: int
) -> None:
    """A lane with fewer units is behind by 0 or more, even when it passed its present point before the other."""
    plan = distance_plan(60)
    now_ms = max([0, *(at_ms for trail in (one, two) for at_ms, _ in trail)]) + later_ms
    a, b = Path(plan, one), Path(plan, two)
    assume(a.steps[-1][1] < b.steps[-1][1])
    gap = gap_at(a, b, now_ms)
    assert gap is not None
    assert gap.behind_ms >= 0


@given(st.lists(st.tuples(st.integers(1, 3), st.integers(100, 60_000), st.integers(1, 30)), max_size=40))
def test_heat_gaps_are_never_negative(taps: list[tuple[int, int, int]]) -> None:
    """In any heat no gap is negative in reps, work or seconds, and the gap to the next place is not above the lead."""
    pads = {lane: Pad(f"p{lane}", lane) for lane in (1, 2, 3)}
    at_ms, facts = 0, []
    for lane, wait_ms, n in taps:
        at_ms += wait_ms
        facts.append(pads[lane].reps(at_ms, n))
    for gaps in heat_gaps(heat(*facts, clock_ms=at_ms)).values():
        for numbers in (gaps.to_leader, gaps.to_next):
            if numbers is not None:
                assert min(numbers.reps, numbers.work_ms) >= 0
                assert numbers.seconds is None or numbers.seconds.behind_ms >= 0
        if gaps.to_leader is not None and gaps.to_next is not None:
            assert gaps.to_next.reps <= gaps.to_leader.reps
            assert gaps.to_next.work_ms <= gaps.to_leader.work_ms


def test_a_lane_without_facts_is_behind_since_the_start() -> None:
    """A lane that has not begun is behind by the time since the other made the first rep, and at least 0."""
    state = heat(Pad("a", 1).reps(5000), clock_ms=12_000, lanes=2)
    gap = heat_gaps(state)[2].to_leader
    assert gap is not None
    assert gap.seconds == Gap(behind_ms=7000, precision=Precision.AT_LEAST, point=1)
    assert lane_path(state, state.lanes[2]).steps == [(0, 0)]


def test_samples_stay_as_described() -> None:
    """The sample workout has 61 units a round, so that the figures above can be followed."""
    assert plan_of_22().lap_done == 61 * len(rounds_of_22())


def home(pad: Pad, tapped_ms: int, called_ms: int) -> list[Fact]:
    """A whole heat of 22 a round that ends with a tap and, after it, the judge's call."""
    rounds = [fact for n in range(5) for fact in full_round(pad, tapped_ms - 110_000 + n * 22_000)]
    return [*rounds, pad.finish(called_ms)]


def seconds_behind(state: HeatState, lane: int) -> tuple[int | None, int | None]:
    """The gap in ms of a lane to the leader and to the next better place."""
    gaps = heat_gaps(state)[lane]
    named = (gaps.to_leader, gaps.to_next)
    leader, following = (None if each is None or each.seconds is None else each.seconds.behind_ms for each in named)
    return leader, following


def test_two_who_tie_by_the_judges_call_have_the_same_gap() -> None:
    """Both called at 12:21.905 after taps 50 ms apart: 29.087 s behind the winner's 11:52.818 each, as in results."""
    facts = [
        *home(Pad("a", 1), 712_600, 712_818),
        *home(Pad("b", 2), 741_687, 741_905),
        *home(Pad("c", 3), 741_737, 741_905),
    ]
    state = heat(*facts, clock_ms=800_000)
    assert [state.lanes[lane].finish_ms for lane in (1, 2, 3)] == [712_818, 741_905, 741_905]
    assert [seconds_behind(state, lane) for lane in (2, 3)] == [(29_087, 29_087)] * 2
    assert max(state.lanes[2].splits.values()) == 741_905


def test_a_count_filled_late_is_home_at_the_call() -> None:
    """A missed last rep that the table adds a minute after the call: the finish, the last mark and the gap are its."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*home(one, 700_000, 700_300), *home(two, 710_000, 710_800)[:-2], two.finish(710_800)]
    state = heat(*facts, Pad("table").correct(770_000, 110, lane=2), clock_ms=771_000)
    assert seconds_behind(state, 2) == (10_500, 10_500)
    assert max(state.lanes[2].splits.values()) == 710_800


def test_a_penalty_is_in_the_gap_as_soon_as_it_is_known() -> None:
    """Sixty seconds given to the second, at work and at home: its gap is a minute longer both times."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*home(one, 700_000, 700_300), *home(two, 702_000, 702_800)]
    fine = PenaltyGiven(
        id="h.1", heat=HEAT, at_ms=650_000, sender="h", sequence=1, lane=2, ms=60_000, reps=0, reason="line"
    )
    assert [seconds_behind(heat(*facts, *given, clock_ms=800_000), 2)[0] for given in ((), (fine,))] == [2_500, 62_500]
    early = [fact for fact in facts if fact.at_ms <= 690_000]
    assert [seconds_behind(heat(*early, *given, clock_ms=690_000), 2)[0] for given in ((), (fine,))] == [2_000, 62_000]


def test_a_lead_that_changed_inside_a_block_gives_no_negative_gap() -> None:
    """The second began the block first, the other ended it first: a gap of at least the wait, then none."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [one.reps(3000), two.reps(2000), one.block(9000)]
    waits, stopped = (heat_gaps(heat(*facts, clock_ms=at, lanes=2))[2].to_leader for at in (9500, 900_000))
    assert waits is not None
    assert stopped is not None
    assert waits.seconds == Gap(behind_ms=500, precision=Precision.AT_LEAST, point=41)
    assert (stopped.reps, stopped.seconds) == (1, None)


def test_a_gap_stops_growing_when_the_work_is_over() -> None:
    """Behind by at least so much while the lane works; at the cap the gap is the one at its last rep."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [one.reps(1000), one.block(9000), one.reps(10_000), two.reps(3000), two.block(12_000)]
    at_work, stopped = (heat_gaps(heat(*facts, clock_ms=at))[2].to_leader for at in (800_000, 900_000))
    assert at_work is not None
    assert stopped is not None
    assert at_work.seconds == Gap(behind_ms=790_000, precision=Precision.AT_LEAST, point=42)
    assert stopped.seconds == Gap(behind_ms=3000, precision=Precision.EXACT, point=41)


def test_the_gap_feed_and_the_call_say_the_same() -> None:
    """What the gap feed says a lane is behind is what the call says, after a late correction too."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*full_round(one, 0), *full_round(two, 10_500), Pad("table").correct(60_000, 24, lane=1)]
    state = heat(*facts, clock_ms=61_000)
    feed = gap_frame(competition(lanes=3), state)["lanes"]
    call = work_frames(state)
    assert {int(lane): data["behind"] for lane, data in feed.items()} == {
        lane: work["behind"] for lane, work in call.items()
    }


def test_nothing_is_measured_against_a_lane_under_a_medical_hold() -> None:
    """With the leader under a hold the second is behind nobody, and the third behind the second alone."""
    facts = [Pad("a", 1).reps(1000, n=41), Pad("b", 2).reps(2000), Pad("c", 3).reps(2500)]
    hold = HoldPlaced(id="h.1", heat=HEAT, at_ms=2600, sender="h", sequence=1, lane=1)
    state = heat(*facts, hold, Pad("b2", 2).block(9000), clock_ms=9_500)
    assert [(state.lanes[lane].gap_leader, state.lanes[lane].gap_next) for lane in (2, 3)] == [(0, 0), (1, 1)]
    assert (heat_gaps(state)[2].to_leader, state.lanes[2].place) == (None, 1)
