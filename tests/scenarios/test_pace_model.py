"""The model of pace and fatigue: what each of its parameters does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import islice, pairwise
from random import Random

import pytest

from floor_crew import brought_home
from tallywire.core.made_up.pace_model import Athlete, Effort, Point, Stall, UnitDone, perform, tiredness
from tallywire.core.model.workout import Credit, Station, Workout

ROUND = (
    Station(movement="Carry", amount=5, credit=Credit.BLOCK),
    Station(movement="Lift", amount=10),
)
EVEN = {"Carry": Effort(unit_ms=1_000, jitter=0), "Lift": Effort(unit_ms=2_000, jitter=0)}


def workout(*, kind: str = "for_time", rounds: int = 5) -> Workout:
    """Rounds of a carry and ten lifts; ten minutes at most."""
    return Workout(format=kind, rounds=(ROUND,) * rounds, time_cap_ms=600_000)


def moments(
    athlete: Athlete, efforts: Mapping[str, Effort] = EVEN, *, seed: int = 1, work: Workout | None = None
) -> list[UnitDone]:
    """Run an athlete through a workout."""
    return list(perform(work or workout(), efforts, athlete, Random(seed)))


def steady(**values: object) -> Athlete:
    """An athlete without fade whose transitions all take five seconds, but for what is given."""
    return Athlete(**{"fade": 0, "transition_ms": (5_000, 5_000), **values})  # type: ignore[arg-type]


def round_times(seen: Iterable[UnitDone]) -> list[float]:
    """Give how long each round took."""
    ends = [0.0, *(moment.at_ms for moment in seen if (moment.at.station, moment.at.unit) == (2, 10))]
    return [after - before for before, after in pairwise(ends)]


def test_a_steady_athlete_is_arithmetic() -> None:
    """Without fade and scatter a round is two transitions, five seconds of carrying and ten lifts of two seconds."""
    assert round_times(moments(steady())) == [35_000] * 5


def test_every_unit_is_done_once_and_in_order() -> None:
    """Each unit of each station of each round comes once, at a later time than the one before."""
    efforts = {"Carry": Effort(unit_ms=1_000), "Lift": Effort(unit_ms=2_000, unbroken=4, no_rep_chance=0.2)}
    seen = moments(Athlete(), efforts)
    done = [moment.at for moment in seen if not moment.no_rep]
    assert done == [
        Point(round=number, station=at, unit=unit)
        for number in range(1, 6)
        for at, station in enumerate(ROUND, start=1)
        for unit in range(1, station.amount + 1)
    ]
    assert all(before.at_ms < after.at_ms for before, after in pairwise(seen))


def test_the_same_seed_gives_the_same_race() -> None:
    """The race depends on the seed alone: equal seeds agree to the last digit, others differ."""
    scattered = {"Carry": Effort(unit_ms=1_000), "Lift": Effort(unit_ms=2_000)}
    assert moments(Athlete(), scattered, seed=5) == moments(Athlete(), scattered, seed=5)
    assert moments(Athlete(), scattered, seed=5) != moments(Athlete(), scattered, seed=6)


def test_skill_divides_every_time() -> None:
    """An athlete of skill 2 is there in half the time, everywhere."""
    usual, quick = moments(steady()), moments(steady(skill=2))
    assert [moment.at_ms for moment in quick] == pytest.approx([moment.at_ms / 2 for moment in usual])


def test_a_strength_shortens_its_own_movement_alone() -> None:
    """Ten per cent faster lifts save two seconds of twenty and leave the carry as it was."""
    assert round_times(moments(steady(strengths={"Lift": 0.9}))) == pytest.approx([33_000] * 5)


def test_pace_breaks_in_the_fourth_of_five_rounds() -> None:
    """With a fade of 20 % round four is 20 % slower than round one, the last a little less, the second 5 %."""
    times = round_times(moments(steady(fade=0.2)))
    assert [time / times[0] for time in times] == pytest.approx([1, 1.05, 1.1, 1.2, 1.18])
    assert [tiredness(each) for each in (0, 0.125, 0.75, 1, 2)] == pytest.approx([0, 0.125, 1, 0.9, 0.9])


def test_who_fades_breaks_the_work_into_more_sets() -> None:
    """Fresh, ten lifts go unbroken; at the heaviest fade they go in two sets of five with one rest between."""
    efforts = EVEN | {"Lift": Effort(unit_ms=2_000, jitter=0, unbroken=10, rest_ms=4_000)}
    lifts = [moment for moment in moments(steady(fade=0.25), efforts) if moment.at.station == 2]
    rests = {
        number: [
            after.at.unit
            for before, after in pairwise(lifts)
            if before.at.round == after.at.round == number and after.at_ms - before.at_ms > 4_000
        ]
        for number in (1, 4)
    }
    assert rests == {1: [], 4: [6]}


def test_a_no_rep_costs_the_time_of_the_attempt() -> None:
    """A scripted no-rep is heard where it was written and puts off everything after it by one attempt."""
    at = Point(round=2, station=2, unit=3)
    usual, called = moments(steady()), moments(steady(no_reps={at: "not locked out"}))
    [no_rep] = [moment for moment in called if moment.no_rep]
    assert (no_rep.at, no_rep.no_rep) == (at, "not locked out")
    assert called[-1].at_ms - usual[-1].at_ms == pytest.approx(2_000)


def test_no_reps_come_as_often_as_their_chance() -> None:
    """At a chance of one in ten an athlete hears about one no-rep for every nine lifts that count."""
    efforts = EVEN | {"Lift": Effort(unit_ms=2_000, no_rep_chance=0.1)}
    heard = [sum(bool(moment.no_rep) for moment in moments(steady(), efforts, seed=seed)) for seed in range(200)]
    expected = 50 * sum((0.1 * (1 + tired)) / (1 - 0.1 * (1 + tired)) for tired in (0, 0.25, 0.5, 1, 0.9)) / 5
    assert sum(heard) / 200 == pytest.approx(expected, rel=0.1)


def test_a_stall_is_a_wait_and_nothing_else() -> None:
    """A stall of a minute puts off what follows by a minute and leaves what came before alone."""
    at = Point(round=3, station=1, unit=2)
    usual, stalled = moments(steady()), moments(steady(stalls=(Stall(at=at, ms=60_000),)))
    delays = [after.at_ms - before.at_ms for before, after in zip(usual, stalled, strict=True)]
    first = next(index for index, moment in enumerate(usual) if moment.at == at)
    assert delays == [0] * first + [60_000] * (len(usual) - first)


def test_an_amrap_goes_on_until_it_is_stopped() -> None:
    """Where rounds repeat the model never ends by itself, counts rounds on and tires by the clock."""
    endless = perform(workout(kind="amrap", rounds=1), EVEN, steady(fade=0.2), Random(1))
    seen = list(islice(endless, 15 * 40))
    assert seen[-1].at == Point(round=40, station=2, unit=10)
    times = round_times(seen)
    assert times[-1] / times[0] == pytest.approx(1.18, abs=0.01)
    assert max(times) / times[0] == pytest.approx(1.2, abs=0.01)


def test_a_race_is_brought_home_to_the_millisecond() -> None:
    """Bringing a race home moves its end to the time asked for and keeps the shape of the race."""
    usual = moments(Athlete())
    home = brought_home(usual, 200_000)
    assert home[-1].at_ms == pytest.approx(200_000, abs=1e-6)
    assert home[0].at_ms / home[-1].at_ms == pytest.approx(usual[0].at_ms / usual[-1].at_ms)
