"""Marks, totals and pace, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.folding import fold
from core.samples import HEAT, Pad, competition, full_round, rounds_of_22, workout
from tallywire.core.facts import Fact
from tallywire.core.formats.base import Tally
from tallywire.core.gaps.marks import EndOf, ahead, load_kg, milestones, totals
from tallywire.core.gaps.pace import (
    fades,
    leg_splits,
    no_rep_rate,
    rate_now,
    round_splits,
    unbroken,
    usual_slowing,
    work_sets,
)
from tallywire.core.model.workout import Plan, Station
from tallywire.core.reports.format_sheet import FormatSheet
from tallywire.wire.catalogue import catalogue

PLAN = Plan(workout(), laps=1)
TWO_A_LAP = Plan(workout(kind="amrap", rounds=rounds_of_22(2)), laps=None)
ENDLESS = Plan(workout(kind="amrap", rounds=rounds_of_22(1)), laps=None)


def tally(*facts: Fact) -> Tally:
    """What lane 1 did."""
    return fold(competition(lanes=1), HEAT, [Pad("starter").start(), *facts]).lanes[1].tally


def rounds(*steps_ms: int) -> Tally:
    """Whole rounds of 22 steps, each round with its own step."""
    pad, at_ms, facts = Pad("a", 1), 0, []
    for step_ms in steps_ms:
        facts += full_round(pad, at_ms, step_ms=step_ms)
        at_ms += 22 * step_ms
    return tally(*facts)


def test_round_marks_of_five_rounds_of_22() -> None:
    """Five rounds of one, a block credited one, ten and ten end at 22, 44, 66, 88, 110 (common practice, no source)."""
    found = milestones(PLAN)
    assert [each.scored for each in found if each.ends is not EndOf.STATION] == [22, 44, 66, 88, 110]
    assert [each.scored for each in found[:4]] == [1, 2, 12, 22]
    assert found[-1].ends is EndOf.WORK


def test_44_is_the_end_of_round_two() -> None:
    """At 40 scored reps the next mark is 44, the end of round 2, with 4 reps to it and 70 to go."""
    found = ahead(PLAN, PLAN.done_for(40))
    assert found is not None
    assert (found.next.scored, found.next.round, found.next.ends) == (44, 2, EndOf.ROUND)
    assert (found.reps_to_next, found.reps_to_round_end, found.to_go) == (4, 4, 70)


def test_marks_inside_a_round() -> None:
    """After the first rep the next mark is the block's end at 2, and the round ends at 22."""
    found = ahead(PLAN, 1)
    assert found is not None
    assert (found.next.scored, found.next.ends, found.round_end.scored) == (2, EndOf.STATION, 22)
    assert (found.reps_to_next, found.reps_to_round_end) == (1, 21)


def test_no_mark_lies_ahead_of_complete_work() -> None:
    """A lane that is done has no next mark; work without an end always has one, and no number to go."""
    assert ahead(PLAN, PLAN.total_done or 0) is None
    found = ahead(ENDLESS, 3 * 61)
    assert found is not None
    assert (found.next.scored, found.next.round, found.to_go) == (67, 4, None)


@given(st.integers(0, 305))
def test_reps_to_a_mark_and_reps_done_make_the_mark(done: int) -> None:
    """At any count, scored reps and reps to the mark add up to the mark, which lies ahead."""
    found = ahead(PLAN, done)
    assert (found is None) == (done == 305)
    if found is not None:
        assert PLAN.scored(done) + found.reps_to_next == found.next.scored
        assert done < found.next.done <= found.round_end.done


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("35 lb", 15.87573295),
        ("45lb", 20.41165665),
        ("95 lbs", 43.09127515),
        ("135 LB", 61.23496995),
        ("20 kg", 20.0),
        ("2 x 22.5 kg", 45.0),
        ("2×22,5 kg", 45.0),
        ("bodyweight", None),
        ("20 in", None),
        ("", None),
    ],
)
def test_loads_as_printed(text: str, kg: float | None) -> None:
    """Pounds become kilograms by NIST SP 811 (1 lb = 0.45359237 kg exactly); what is not a mass gives none."""
    assert load_kg(text) == (None if kg is None else pytest.approx(kg, abs=1e-9))


def test_totals_in_units_and_kilograms() -> None:
    """Two rounds and a half: units per movement, kilograms where a load parses, and only whole blocks."""
    stations = (
        Station(movement="deadlift", amount=10, loads={"women": "70 kg", "men": "100 kg"}),
        Station(movement="row", amount=500, unit="metres"),
        Station(movement="step-over", amount=4, loads={"women": "light"}),
    )
    plan = Plan(workout(rounds=(stations,) * 3), laps=1)
    found = {each.movement: (each.amount, each.kg) for each in totals(plan, 2 * 514 + 7, "women")}
    assert found == {"deadlift": (27, pytest.approx(1890.0)), "row": (1000, None), "step-over": (8, None)}
    assert [(each.movement, each.amount) for each in totals(PLAN, 21, "women")] == [("sled haul", 1)]
    assert [each.amount for each in totals(ENDLESS, 61 * 3 + 41, "women")] == [4, 160, 30, 30]


def test_splits_add_up_to_the_time() -> None:
    """The splits of stations add up to those of rounds, and these to the finish."""
    work = rounds(1000, 1100, 1200, 1300, 1400)
    splits = leg_splits(PLAN, work)
    assert len(splits) == 20
    assert round_splits(PLAN, splits) == {1: 22_000, 2: 24_200, 3: 26_400, 4: 28_600, 5: 30_800}
    assert sum(split.split_ms or 0 for split in splits) == work.reached_ms == 132_000


def test_rounds_are_numbered_on_through_laps_of_several() -> None:
    """In laps of two rounds of 22 the third round begins the second lap, in the splits and on the judge's sheet."""
    laps = workout(kind="amrap", rounds=rounds_of_22(2))
    done = rounds(1000, 1100, 1200)
    assert round_splits(TWO_A_LAP, leg_splits(TWO_A_LAP, done)) == {1: 22_000, 2: 24_200, 3: 26_400}
    event = replace(competition(laps).events["event"], workout=laps)
    lines = FormatSheet().lines(event, "women", catalogue("en").say, until_ms=laps.time_cap_ms)
    assert [(line.round, line.cumulative) for line in lines if line.ends_round][:4] == [
        (1, 22),
        (2, 44),
        (3, 66),
        (4, 88),
    ]


def test_station_splits_and_transitions() -> None:
    """A station that begins 4 s late after reps of 1 s has a transition of 4 s; a block shows none."""
    pad = Pad("a", 1)
    head = [pad.reps(2000), pad.block(20_000)]
    splits = leg_splits(PLAN, tally(*head, *(pad.reps(25_000 + 1000 * n) for n in range(6))))
    assert [(each.number, each.split_ms, each.transition_ms) for each in splits] == [
        (1, 2000, None),
        (2, 18_000, None),
        (3, None, 4000),
    ]


@pytest.mark.parametrize(("reps", "transition_ms"), [(2, None), (3, 4000)])
def test_a_transition_is_told_from_the_third_rep_on(reps: int, transition_ms: int | None) -> None:
    """One pause between reps says nothing of the usual one; two do: 5 s to the first rep are 4 s more than that."""
    pad = Pad("a", 1)
    head = [pad.reps(2000), pad.block(20_000)]
    splits = leg_splits(PLAN, tally(*head, *(pad.reps(25_000 + 1000 * n) for n in range(reps))))
    assert splits[-1].transition_ms == transition_ms


def test_a_fact_past_a_stations_end_ends_it() -> None:
    """Fifteen units in one fact end the station of ten they started in, at that fact's time."""
    pad = Pad("a", 1)
    splits = leg_splits(PLAN, tally(pad.reps(1000), pad.block(9000), pad.reps(30_000, 15)))
    assert [each.end_ms for each in splits] == [1000, 9000, 30_000, None]
    assert splits[-1].unit_ms == (30_000,)


def test_rate_falls_while_nothing_comes() -> None:
    """One rep a second is 60 a minute at the last rep and 30 a minute five seconds later; None before two facts."""
    work = rounds(1000)
    assert rate_now(work, 22_000) == pytest.approx(60.0)
    assert rate_now(work, 27_000) == pytest.approx(30.0)
    assert rate_now(tally(Pad("a", 1).reps(1000)), 2000) is None


def test_two_taps_at_one_moment_are_no_rate() -> None:
    """Nothing a minute can be said of no time; a millisecond later one more in a millisecond is 60,000 a minute."""
    pad = Pad("a", 1)
    both = tally(pad.reps(1000), pad.reps(1000))
    assert (rate_now(both, 1000), rate_now(both, 1001)) == (None, 60_000)


def test_sets_and_rests() -> None:
    """Six, a rest of 9 s, four: two sets with the rest between; ten in a row are unbroken."""
    pad = Pad("a", 1)
    head = [pad.reps(1000), pad.block(2000)]
    broken = [pad.reps(3000 + 1000 * n) for n in range(6)] + [pad.reps(17_000 + 1000 * n) for n in range(4)]
    straight = [pad.reps(22_000 + 1000 * n) for n in range(10)]
    splits = leg_splits(PLAN, tally(*head, *broken, *straight))
    sets = work_sets(splits[2])
    assert [(each.units, each.rest_ms) for each in sets] == [(6, 9000), (4, None)]
    assert [unbroken(split, leg) for split, leg in zip(splits, PLAN.legs, strict=False)] == [
        False,
        False,
        False,
        True,
        False,
    ]
    assert work_sets(splits[1])[0].units == 1
    assert work_sets(splits[4]) == ()


def test_fade_against_own_first_round_and_the_field() -> None:
    """A last round 40 % slower than the first, where the field's median is 20 % slower, is 1.4 and 1.4 / 1.2."""
    own = round_splits(PLAN, leg_splits(PLAN, rounds(1000, 1000, 1000, 1000, 1400)))
    field = [{1: 100, 5: 120}, {1: 200, 5: 220}, {1: 100, 5: 150}, {1: 100}]
    found = fades(own, usual_slowing(field))
    assert found[-1].round == 5
    assert found[-1].own == pytest.approx(1.4)
    assert found[-1].against_field == pytest.approx(1.4 / 1.2)
    assert [(each.round, each.own, each.against_field) for each in found[:3]] == [(n, 1.0, None) for n in (2, 3, 4)]
    assert fades({}) == []


def test_a_round_that_took_no_time_is_no_pace() -> None:
    """A correction past two rounds ends both at one moment: nothing is measured by them, nor by a first one like it."""
    own = {1: 100, 2: 0, 3: 120}
    assert [(each.round, each.own, each.against_field) for each in fades(own, usual_slowing([own]))] == [(3, 1.2, 1.0)]
    assert fades({1: 0, 2: 100}, usual_slowing([own])) == []


def test_no_rep_rate() -> None:
    """Two no-reps beside six counted are a quarter of the attempts; before any attempt the rate is 0."""
    pad = Pad("a", 1)
    facts = [pad.reps(1000), pad.block(2000), *(pad.reps(3000 + n) for n in range(4)), pad.no_rep(5), pad.no_rep(6)]
    assert no_rep_rate(tally(*facts)) == 0.25
    assert no_rep_rate(Tally()) == 0.0
