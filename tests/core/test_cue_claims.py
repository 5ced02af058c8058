"""Every cue of the demo heat, checked against the recording counted a second time by other means."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from core.examples import competition_of, recorded
from core.folding import fold
from core.raw_heat import (
    ALL_REPS,
    CAP_MS,
    ROUND,
    ROUND_REPS,
    ROUNDS,
    UNITS,
    WORTH,
    RawHeat,
    RawLane,
    in_one_set,
    work_s,
)
from tallywire.core.cues import Cue, CueDesk, Kind, Observation, cues
from tallywire.core.cues.script import cue_script
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.forecast.of_event import expected_finishes

pytestmark = pytest.mark.slow

STATIONS = {"Push press": 2, "Box jump-over": 4}


@cache
def demo() -> list[tuple[int, Cue]]:
    """The cues of the demo heat, each second."""
    competition = competition_of("saltmarsh")
    return cue_script(competition, "women-2", recorded("saltmarsh-women-2"))


def number(cue: Cue, key: str) -> int:
    """A number of a cue."""
    found = cue.values[key]
    assert isinstance(found, int)
    return found


def named(cue: Cue, heat: RawHeat, key: str = "name") -> RawLane:
    """The lane a cue names."""
    return heat.lane(str(cue.values[key]))


def check_finish(cue: Cue, heat: RawHeat) -> None:
    """The judge's time, the place it gives, and the time to the one ahead."""
    lane = named(cue, heat)
    home = sorted(each.finish_ms for each in heat.lanes.values() if each.finish_ms is not None)
    earlier = [at_ms for at_ms in home if at_ms < number(cue, "time_ms")]
    assert lane.finish_ms == number(cue, "time_ms")
    assert number(cue, "place") == 1 + len(earlier) == heat.places[lane.lane]
    assert number(cue, "behind_ms") == (number(cue, "time_ms") - earlier[-1] if earlier else 0)
    if "other" in cue.values:
        assert named(cue, heat, "other").finish_ms == lane.finish_ms
    if "ahead" in cue.values:
        assert named(cue, heat, "ahead").finish_ms == earlier[-1]


def check_lead(cue: Cue, heat: RawHeat) -> None:
    """It has been alone in front for four seconds, by this many reps over the lane that led before."""
    for clock_ms in range(cue.at_ms - 4_000, cue.at_ms + 1, 1_000):
        then = RawHeat(clock_ms)
        assert [each.lane for each in then.lanes.values() if then.places[each.lane] == 1] == [named(cue, then).lane]
    lane = named(cue, heat)
    assert number(cue, "reps") == lane.reps - named(cue, heat, "before").reps
    assert number(cue, "round") == lane.done // ROUND + 1


def check_round_first(cue: Cue, heat: RawHeat) -> None:
    """Nobody ended the round earlier."""
    end = number(cue, "round") * ROUND
    times = {heat.name(lane): lane.passed[end] for lane in heat.lanes.values() if end in lane.passed}
    assert min(times, key=times.__getitem__) == cue.values["name"]
    assert times[str(cue.values["name"])] == number(cue, "time_ms") == cue.at_ms
    assert number(cue, "reps") == ROUND_REPS * number(cue, "round")


def check_catching(cue: Cue, heat: RawHeat) -> None:
    """The gap in time at the chaser's last rep, or as long as the one ahead has been past its next one; a round ago;
    and when the two lines meet."""
    chaser, ahead = named(cue, heat), named(cue, heat, "ahead")
    point, then = chaser.done, chaser.done - ROUND
    waited_ms = heat.clock_ms - ahead.passed.get(point + 1, heat.clock_ms)
    gap_ms = max(chaser.passed[point] - ahead.passed[point], waited_ms)
    was_ms = chaser.passed[then] - ahead.passed[then]
    assert (number(cue, "gap_ms"), number(cue, "was_ms")) == (gap_ms, was_ms)
    closing = (was_ms - gap_ms) / (heat.clock_ms - chaser.passed[then])
    assert abs(number(cue, "catch_ms") - gap_ms / closing) < 1
    assert number(cue, "place_ahead") == heat.places[ahead.lane] < heat.places[chaser.lane]


@cache
def forecast_at(clock_ms: int) -> dict[int, int]:
    """The forecast's median finishes at a moment of the demo heat, by lane."""
    competition = competition_of("saltmarsh")
    facts = [fact for fact in recorded("saltmarsh-women-2") if fact.at_ms <= clock_ms]
    return expected_finishes(competition, fold(competition, "women-2", facts, clock_ms), others=(), learned=None)


def check_cap_danger(cue: Cue, heat: RawHeat) -> None:
    """The forecast, asked every five seconds, has it so far over the cap.

    By other means: at the pace of its last round the lane ends within a minute and a half of that, and in the end it
    was not home inside the cap.
    """
    lane = named(cue, heat)
    assert number(cue, "over_ms") == forecast_at(heat.clock_ms // 5000 * 5000)[lane.lane] - CAP_MS
    last_ms, then = lane.passed[lane.done], lane.done - ROUND
    begun_ms = next(at_ms for done, at_ms in sorted(lane.passed.items()) if done >= then)
    rate = (last_ms - begun_ms) / (work_s(lane.done) - work_s(then))
    home_ms = last_ms + rate * (work_s(ROUNDS * ROUND) - work_s(lane.done))
    assert abs(number(cue, "over_ms") - (home_ms - CAP_MS)) < 90_000
    assert RawHeat(CAP_MS).lanes[lane.lane].finish_ms is None
    assert (number(cue, "to_go"), number(cue, "left_ms")) == (ALL_REPS - lane.reps, CAP_MS - heat.clock_ms)


def check_no_reps(cue: Cue, heat: RawHeat) -> None:
    """So many calls on the lane, so many seconds from the first to the last."""
    run = [at_ms for at_ms in named(cue, heat).no_reps_ms if heat.clock_ms - 30_000 < at_ms <= heat.clock_ms]
    assert (number(cue, "count"), number(cue, "within_ms")) == (len(run), run[-1] - run[0])


def check_unbroken(cue: Cue, heat: RawHeat) -> None:
    """The lane did it in one set; so many did of so many who are through it."""
    station = STATIONS[str(cue.values["movement"])]
    times = {lane.lane: lane.station_ms(number(cue, "round"), station) for lane in heat.lanes.values()}
    through = {lane: each for lane, each in times.items() if len(each) == number(cue, "amount") == UNITS[station - 1]}
    whole = [lane for lane, each in through.items() if in_one_set(each)]
    assert named(cue, heat).lane in whole
    assert (number(cue, "whole"), number(cue, "through")) == (len(whole), len(through))


def check_withdrawal(cue: Cue, heat: RawHeat) -> None:
    """The lane stopped, with so many reps."""
    lane = named(cue, heat)
    assert lane.withdrawn
    assert (number(cue, "reps"), number(cue, "round")) == (lane.reps, lane.done // ROUND + 1)


def check_time_up(cue: Cue, heat: RawHeat) -> None:
    """So many are neither home nor withdrawn at the cap; the best of them is so far short."""
    short = [lane for lane in heat.lanes.values() if lane.finish_ms is None and not lane.withdrawn]
    best = max(short, key=lambda lane: lane.reps)
    assert (number(cue, "capped"), number(cue, "to_go")) == (len(short), ALL_REPS - best.reps)
    assert cue.values["name"] == heat.name(best)


def check_overall(cue: Cue, heat: RawHeat) -> None:
    """Before plus 150, 138, 128 … for the places as they stand: alone in front, by so many points."""
    first, second = sorted(heat.totals.values(), reverse=True)[:2]
    assert heat.totals[str(cue.values["name"])] == first > second
    assert number(cue, "points") == first - second
    assert heat.totals[str(cue.values["second"])] == second


def check_clinched(cue: Cue, heat: RawHeat) -> None:
    """However many of the ten of the other heat come in between or ahead, nobody of this heat passes; and none of
    those ten gets as far even with a win."""
    own, second = sorted(heat.totals.values(), reverse=True)[:2]
    lane = named(cue, heat)
    before = heat.entries[lane.lane]["points_before"]
    assert own == heat.totals[str(cue.values["name"])] == second + number(cue, "points") > second
    assert all(each.finish_ms or each.withdrawn or heat.clock_ms >= CAP_MS for each in heat.lanes.values())
    for ahead in range(len(heat.others) + 1):
        for rival in heat.lanes.values():
            if rival is not lane:
                passed = ahead if heat.places[rival.lane] > heat.places[lane.lane] else 0
                gained = 0 if rival.withdrawn else WORTH[heat.places[rival.lane] - 1 + passed]
                own = before + WORTH[heat.places[lane.lane] - 1 + ahead]
                assert own > heat.entries[rival.lane]["points_before"] + gained
    worst = before + WORTH[heat.places[lane.lane] - 1 + len(heat.others)]
    assert worst > max(each["points_before"] + WORTH[0] for each in heat.others)


CHECKS: dict[Kind, Callable[[Cue, RawHeat], None]] = {
    Kind.FINISH: check_finish,
    Kind.LEAD: check_lead,
    Kind.ROUND_FIRST: check_round_first,
    Kind.CATCHING: check_catching,
    Kind.CAP_DANGER: check_cap_danger,
    Kind.NO_REPS: check_no_reps,
    Kind.UNBROKEN: check_unbroken,
    Kind.WITHDRAWAL: check_withdrawal,
    Kind.TIME_UP: check_time_up,
    Kind.OVERALL_LEAD: check_overall,
    Kind.CLINCHED: check_clinched,
}


def test_every_claim_of_the_demo_heat_holds() -> None:
    """Every number in every cue of the demo heat is what a second count of the recording gives at that moment."""
    for at_ms, cue in demo():
        CHECKS[cue.kind](cue, RawHeat(at_ms))


def test_the_demo_heat_has_every_kind_of_a_race() -> None:
    """The demo heat brings up every kind of cue there is in one count of work, so that no check above stands idle."""
    assert {cue.kind for _, cue in demo()} == set(CHECKS)


def test_every_check_refuses_a_wrong_number() -> None:
    """Each number of each cue, changed by a little, fails its check: none of them is decoration."""
    for at_ms, cue in demo():
        heat = RawHeat(at_ms)
        for key, value in cue.values.items():
            if isinstance(value, int):
                wrong = replace(cue, values={**cue.values, key: value + 3})
                with pytest.raises((AssertionError, KeyError, ValueError)):
                    CHECKS[cue.kind](wrong, heat)
                    pytest.fail(f"{cue.template}: {key} may be {value + 3} as well as {value}")


def test_a_chase_leaves_the_desk_when_the_two_are_level() -> None:
    """At 7:20 lane 6 is said to catch lane 7; five seconds later both have the same scored reps, inside a block."""
    competition = competition_of("saltmarsh")
    book, desk, shown = HeatBook(competition, competition.heats["women-2"]), CueDesk(), {}
    coming = sorted(recorded("saltmarsh-women-2"), key=lambda fact: fact.order, reverse=True)
    for clock_ms in range(425_000, 446_000, 1_000):
        while coming[-1].at_ms <= clock_ms:
            book.add(coming.pop())
        state = book.at(clock_ms).state
        desk = cues(desk, Observation(state=state))
        level = state.lanes[6].place == state.lanes[7].place
        shown[clock_ms] = ([cue.lanes for cue in desk.current if cue.kind is Kind.CATCHING], level)
    assert (shown[440_000], shown[445_000]) == (([(6, 7)], False), ([], True))
    assert not any(level and pairs for pairs, level in shown.values())
