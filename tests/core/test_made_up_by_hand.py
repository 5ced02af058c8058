"""What is made up with dice that always show the same, worked out by hand from what each world and format says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from core.cue_heats import ladder_work, lift_work, pieces_work
from core.samples import HEAT, competition, workout
from core.test_made_up import Even
from tallywire.core.facts import (
    AttemptDeclared,
    AttemptFailed,
    AttemptMade,
    Fact,
    FactVoided,
    Finished,
    HeatEnded,
    RepCounted,
)
from tallywire.core.made_up.heat import MadeUp, made_up_heat, true_work
from tallywire.core.made_up.pace_model import MEMORY, Athlete, Effort, Point, Stall, perform, tiredness
from tallywire.core.made_up.worlds import World
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Station, Workout

CALM = World(fade=(0.0, 0.0), breakdown=0.0, no_rep=0.0, leaves=0.0, double=0.0, missed=0.0, late_ms=(0, 0), outage=0.0)
"""Everybody as fast as the organiser expects, every tap seen at once."""
STEP_MS = 10_000
GO_MS = (3_700 + 6_000) / 2
"""A unit, and the way to a station, where the dice show the middle."""


def rows(*amounts: int) -> Workout:
    """A round for each amount, units of ten seconds, which nobody does in sets."""
    rounds = tuple((Station(movement="Row", amount=each, expected_ms=each * STEP_MS),) for each in amounts)
    return replace(workout(), rounds=rounds)


def told(work: Workout, world: World = CALM, shows: float = 0.5) -> list[Fact]:
    """The facts of a heat of one lane."""
    made = MadeUp(competition=competition(work, lanes=1), world=world, dice_of=lambda _name: Even(shows))
    return made_up_heat(made, made.competition.heats[HEAT], start_unix_ms=1_000_000)


def taps(facts: Sequence[Fact]) -> list[tuple[type[Fact], int]]:
    """What lane 1 sent, and when."""
    return [(type(each), each.at_ms) for each in facts if each.sender == f"lane-1-{HEAT}"]


def drafts(asked: Competition, shows: float, *, fade: float = 0.0) -> list[tuple[str, int]]:
    """The names and times of the true work on a lane of a format."""
    world = replace(CALM, fade=(fade, fade))
    made = MadeUp(competition=asked, world=world, dice_of=lambda _name: Even(shows))
    return [(kind.__name__, round(at_ms)) for kind, at_ms, _ in true_work(made, asked.heats[HEAT], 1)]


def test_a_heat_is_called_45_s_before_it_starts_and_ends_after_its_cap() -> None:
    """Two rounds of two and one: a way of 4.85 s before each, 10 s a unit, and the call a quarter second behind."""
    facts = told(rows(2, 1))
    first, second, third = GO_MS + STEP_MS, GO_MS + 2 * STEP_MS, 2 * GO_MS + 3 * STEP_MS
    assert taps(facts) == [
        (RepCounted, round(first)),
        (RepCounted, round(second)),
        (RepCounted, round(third)),
        (Finished, round(third + 250)),
    ]
    table: list[Any] = [each for each in facts if each.sender == f"table-{HEAT}"]
    assert [each.at_ms for each in table] == [0, 0, workout().time_cap_ms + 1_500]
    assert [each.unix_ms for each in table[:2]] == [955_000, 1_000_000]
    assert isinstance(table[2], HeatEnded)
    assert [each.sequence for each in facts if each.sender == f"lane-1-{HEAT}"] == [1, 2, 3, 4]


@pytest.mark.parametrize(("cap_ms", "last"), [(14_850, RepCounted), (15_100, Finished), (15_099, RepCounted)])
def test_what_is_done_at_the_cap_itself_still_counts(cap_ms: int, last: type[Fact]) -> None:
    """A unit at 14.85 s and the call at 15.1 s are taken to the millisecond."""
    found = taps(told(replace(rows(1), time_cap_ms=cap_ms)))
    assert found[0] == (RepCounted, 14_850)
    assert found[-1][0] is last


def test_fade_is_felt_most_three_quarters_of_the_way() -> None:
    """Straight lines from 0 to 1 at three quarters, and 0.9 at the end; a fifth of fade makes 10 s to 12 s there."""
    parts = (0, 0.125, 0.25, 0.5, 0.625, 0.75, 0.875, 1, 2)
    assert [tiredness(part) for part in parts] == pytest.approx([0, 0.125, 0.25, 0.5, 0.75, 1, 0.95, 0.9, 0.9])
    found = taps(told(rows(1, 1, 1, 1, 1), replace(CALM, fade=(0.1, 0.3))))
    slowed = (1, 1.05, 1.1, 1.2, 1.18)
    ends = [sum(slowed[:n]) * (GO_MS + STEP_MS) for n in range(1, 6)]
    assert [at_ms for _, at_ms in found] == pytest.approx([*ends, ends[-1] + 250], abs=1)


def test_a_mood_comes_back_to_the_pace_and_lasts() -> None:
    """A pair of dice at the middle moves nothing; at three quarters a unit is up by half a step of 0.1 and by what is
    left of the unit before.
    """
    even = [at_ms for _, at_ms in taps(told(rows(3), replace(CALM, mood=0.1)))]
    assert even == [at_ms for _, at_ms in taps(told(rows(3)))]
    found = perform(rows(3), {"Row": Effort(unit_ms=STEP_MS, jitter=0)}, Athlete(mood=0.1), Even(0.75))
    ends = [each.at_ms for each in found]
    second, third = 0.05 * (1 + MEMORY), 0.05 * (1 + MEMORY + MEMORY**2)
    assert [later - at_ms for at_ms, later in pairwise(ends)] == pytest.approx(
        [STEP_MS * (1 + second), STEP_MS * (1 + third)]
    )


def test_endless_work_tires_by_the_clock() -> None:
    """Of rounds that repeat the part behind is that of the cap: at a quarter of it a quarter of the fade."""
    work = replace(rows(1), format=workout(kind="amrap").format, time_cap_ms=4 * 14_850)
    effort = {"Row": Effort(unit_ms=STEP_MS)}
    found = perform(work, effort, Athlete(fade=0.2), Even(0.5))
    assert [next(found).at_ms for _ in range(2)] == pytest.approx([14_850, 14_850 * 2.05])


def test_a_judge_who_misses_or_doubles_puts_it_right() -> None:
    """A chance below `missed` comes 3.75 s late, from there to `double` more 0.1 s later and is voided; no later."""
    assert taps(told(rows(1), replace(CALM, missed=0.6)))[0] == (RepCounted, 14_850 + 3_750)
    for missed, double, twice in ((0.5, 0.1, True), (0.4, 0.1, False), (0.45, 0.1, True), (0.4, 0.09, False)):
        found = taps(told(rows(1), replace(CALM, missed=missed, double=double)))
        again = [(RepCounted, 14_950), (FactVoided, 14_950)] if twice else []
        assert found == [(RepCounted, 14_850), *again, (Finished, 15_100)], (missed, double)


def test_taps_of_a_late_judge_keep_their_order_and_a_thumbs_time() -> None:
    """A unit every 0.1 s is tapped every 0.16 s; lateness of 0.2 s moves them all."""
    quick = replace(rows(3), rounds=((Station(movement="Row", amount=3, expected_ms=300),),))
    effort_ms = GO_MS + 100
    found = taps(told(quick, replace(CALM, late_ms=(100, 300))))
    assert [at_ms for _, at_ms in found[:3]] == [round(effort_ms + 200), round(effort_ms + 360), round(effort_ms + 520)]


def test_taps_of_an_outage_arrive_at_its_end() -> None:
    """From half of the last tap's time on for 34 s: later than the table's end of the heat, in their order."""
    work = replace(rows(2), time_cap_ms=30_000)
    facts = told(work, replace(CALM, outage=1.0))
    assert [type(each) for each in facts[-3:]] == [RepCounted, RepCounted, Finished]
    assert [type(each) for each in told(work)[-1:]] == [HeatEnded]


def test_somebody_stands_still_in_the_round_after_the_half() -> None:
    """A stop of 37.5 s before the middle unit of the third of four rounds."""
    found = taps(told(rows(4, 4, 4, 4), replace(CALM, breakdown=0.6)))
    apart = [later - earlier for (_, earlier), (_, later) in pairwise(found)]
    assert apart[9] == STEP_MS + 37_500
    assert sorted(apart)[-2] == round(GO_MS + STEP_MS)


def test_a_stop_falls_on_its_unit_alone() -> None:
    """What is meant to happen to an athlete happens at that unit of that station in that round."""
    athlete = Athlete(fade=0.0, stalls=(Stall(at=Point(round=1, station=1, unit=2), ms=7_000),))
    failing = replace(athlete, no_reps={Point(round=1, station=1, unit=2): "low"})
    effort = {"Row": Effort(unit_ms=STEP_MS)}
    assert [each.at_ms for each in perform(rows(2, 2), effort, athlete, Even(0.5))] == [
        14_850, 31_850, 46_700, 56_700,
    ]  # fmt: skip
    found = [(each.at_ms, each.no_rep) for each in perform(rows(2), effort, failing, Even(0.5))]
    assert found == [(14_850, ""), (31_850, "low"), (41_850, "")]


@pytest.mark.parametrize(
    ("fade", "unbroken", "rests"),
    [(0.0, 4, [5, 9]), (0.0, 5, [6]), (0.0, 10, []), (0.25, 10, [6]), (0.125, 10, [6])],
)
def test_sets_are_as_equal_as_they_come_and_half_as_long_at_the_worst(
    fade: float, unbroken: int, rests: list[int]
) -> None:
    """Ten with four at a time are four, four and two; ten at a time come down to five at three quarters of the way."""
    athlete = Athlete(fade=fade)
    work = rows(*([10] * 5))
    found = [
        each.at_ms for each in perform(work, {"Row": Effort(unit_ms=1_000, unbroken=unbroken)}, athlete, Even(0.5))
    ]
    number = 3 if fade else 0
    one = [later - earlier for earlier, later in pairwise(found[number * 10 : number * 10 + 10])]
    usual = min(one)
    assert [n for n, apart in enumerate(one, start=2) if apart > 2 * usual] == rests


@pytest.mark.parametrize(("reps", "shows", "breaks"), [(8, 0, 0), (9, 0, 1), (22, 0.999, 0), (23, 0.999, 1)])
def test_somebody_fresh_does_eight_to_22_in_a_set(reps: int, shows: float, breaks: int) -> None:
    """The dice's least is eight, their most 22; of units of a second, which are done in sets."""
    quick = replace(rows(reps), rounds=((Station(movement="Row", amount=reps, expected_ms=reps * 1_000),),))
    counted = [at_ms for kind, at_ms in taps(told(quick, shows=shows)) if kind is RepCounted]
    apart = [later - earlier for earlier, later in pairwise(counted)]
    assert sum(each > 2 * min(apart) for each in apart) == breaks


def test_a_missed_bar_takes_twice_as_long_and_ends_the_ladder() -> None:
    """Dice of 0.3: two lifts a bar, 8.7 s into a window of a minute and 5.85 s apart. The third bar's chance of a miss
    is 0.77: missed every 11.7 s until half a second before the window's end."""
    good = [8_700, 14_550, 68_700, 74_550]
    missed = [128_700 + 11_700 * n for n in range(5)]
    assert drafts(ladder_work(), 0.3) == [("AttemptMade", at_ms) for at_ms in good] + [
        ("AttemptFailed", at_ms) for at_ms in missed
    ]
    assert drafts(ladder_work(bars=1), 0.3) == [("AttemptMade", 8_700), ("AttemptMade", 14_550)]


@pytest.mark.parametrize(
    ("attempts", "shows", "loads", "good"),
    [(3, 0.5, [95, 99, 103], 3), (3, 0.6, [98, 102, 106], 2), (None, 0.6, [98, 102, 106, 106, 106], 2)],
)
def test_lifts_are_spread_over_the_time_and_go_up_while_they_are_good(
    attempts: int | None, shows: float, loads: list[int], good: int
) -> None:
    """Five minutes shared out, or one attempt a minute: declared a part into it and judged another part later. The
    chance falls from 0.88 by 0.18 with every good one, so dice of 0.6 miss the third and stay at its load."""
    work = lift_work(attempts)
    made = MadeUp(competition=work, world=CALM, dice_of=lambda _name: Even(shows))
    found = true_work(made, work.heats[HEAT], 1)
    every_ms = 300_000 / len(loads)
    begins = [every_ms * (n + 0.1 + 0.3 * shows) for n in range(len(loads))]
    assert [fields["load_milli"] for kind, _, fields in found if kind is AttemptDeclared] == [1000 * kg for kg in loads]
    assert [at_ms for _, at_ms, _ in found[::2]] == pytest.approx(begins)
    assert [at_ms for _, at_ms, _ in found[1::2]] == pytest.approx(
        [at + every_ms * (0.1 + 0.2 * shows) for at in begins]
    )
    judged = [kind for kind, _, _ in found[1::2]]
    assert judged == [AttemptMade] * good + [AttemptFailed] * (len(loads) - good)


def test_pieces_tire_one_after_the_other() -> None:
    """Ten of 6 s in a minute every 90 s; with a fade of a fifth the second goes a tenth slower and the third a fifth:
    nine, eight and seven are done in time."""
    work = pieces_work()
    event = work.events["event"]
    slow = replace(event.workout, rounds=((Station(movement="row", amount=10, unit="calories", expected_ms=60_000),),))
    asked = replace(work, events={"event": replace(event, workout=slow)})
    ends = [
        ("RepCounted", round(90_000 * piece + slowed * (GO_MS + 6_000 * n)))
        for piece, (slowed, count) in enumerate(((1, 9), (1.1, 8), (1.2, 7)))
        for n in range(1, count + 1)
    ]
    assert drafts(asked, 0.5, fade=0.2) == ends
