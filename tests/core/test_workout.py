"""The arithmetic between work done and scored reps."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import rounds_of_22, workout
from tallywire.core.model.workout import Credit, Mark, Plan, Station


def test_cumulative_numbers_at_round_ends() -> None:
    """One rep, a block credited as one, ten and ten: five rounds end at 22, 44, 66, 88, 110.

    Source: common practice, no source.
    """
    plan = Plan(workout(), laps=1)
    ends = [plan.scored(plan.done_at(Mark(round=number, station=4))) for number in range(1, 6)]
    assert ends == [22, 44, 66, 88, 110]


def test_a_block_is_worth_nothing_until_complete() -> None:
    """Work inside a block credits nothing; its last unit credits one."""
    plan = Plan(workout(), laps=1)
    assert [plan.scored(done) for done in (0, 1, 2, 40, 41, 42)] == [0, 1, 1, 1, 2, 3]


def test_position_names_the_next_marks() -> None:
    """Through two rounds the next marks are the end of the first station (45) and of round three (66)."""
    plan = Plan(workout(), laps=1)
    position = plan.position(plan.done_for(44))
    assert (position.round, position.number, position.next_mark, position.round_mark) == (3, 1, 45, 66)


def test_position_at_the_end_of_fixed_work() -> None:
    """At the end of fixed work the position is the last station, complete."""
    plan = Plan(workout(), laps=1)
    position = plan.position(plan.total_done or 0)
    assert (position.round, position.number, position.station_done, position.next_mark) == (5, 4, 10, 110)


def test_repeating_work_counts_on() -> None:
    """When the rounds repeat without end, numbers run on from lap to lap."""
    plan = Plan(workout(kind="amrap", rounds=rounds_of_22(1)), laps=None)
    position = plan.position(plan.done_for(47))
    assert (position.round, position.number, position.station_done, position.scored) == (3, 3, 1, 47)


@pytest.mark.parametrize("mark", [Mark(round=6, station=1), Mark(round=1, station=5), Mark(round=0, station=1)])
def test_an_unknown_mark_is_an_error(mark: Mark) -> None:
    """A mark the workout does not have raises KeyError."""
    with pytest.raises(KeyError):
        Plan(workout(), laps=1).done_at(mark)


stations = st.builds(
    Station,
    movement=st.just("move"),
    amount=st.integers(1, 30),
    credit=st.sampled_from(Credit),
)
plans = st.builds(
    lambda rounds, laps: Plan(workout(rounds=tuple(map(tuple, rounds))), laps=laps),
    st.lists(st.lists(stations, min_size=1, max_size=4), min_size=1, max_size=4),
    st.sampled_from([1, None]),
)


@given(plans, st.integers(0, 500))
def test_scored_and_done_agree(plan: Plan, number: int) -> None:
    """The fewest units worth n scored reps are worth n, and one unit fewer is worth less."""
    scored = number if plan.total_scored is None else min(number, plan.total_scored)
    done = plan.done_for(scored)
    assert plan.scored(done) == scored
    assert done == 0 or plan.scored(done - 1) < scored


@given(plans, st.integers(0, 500))
def test_a_unit_counted_by_hand_agrees(plan: Plan, number: int) -> None:
    """Walking unit by unit through the stations gives the same scored reps as the arithmetic."""
    done = plan.clamp(number)
    assert plan.scored(done) == _by_hand(plan, done)
    assert plan.position(done).scored == plan.scored(done)


def _by_hand(plan: Plan, done: int) -> int:
    scored = left = 0
    left = done
    while left > 0:
        for stations_of_round in plan.workout.rounds:
            for station in stations_of_round:
                taken = min(left, station.amount)
                left -= taken
                scored += taken if station.credit is Credit.UNIT else int(taken == station.amount)
    return scored


@given(plans, st.integers(0, 300))
def test_station_ends_are_those_reached(plan: Plan, number: int) -> None:
    """Every station end at or below the count is listed once, in order, and the count at it is right."""
    done = plan.clamp(number)
    ends = plan.station_ends(done)
    assert [end for _, end in ends] == sorted({end for _, end in ends})
    assert all(plan.done_at(mark) == end <= done for mark, end in ends)
    longest = max(station.amount for stations in plan.workout.rounds for station in stations)
    assert done - (ends[-1][1] if ends else 0) < longest or done == plan.total_done
