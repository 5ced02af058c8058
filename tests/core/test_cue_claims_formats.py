"""Every cue of a lift, a ladder and intervals, checked against the recordings counted a second time by other means."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import TypeVar

import pytest

from core.examples import competition_of, recorded
from core.raw_estuary import (
    ATTEMPTS,
    LANES,
    LIFTS,
    PIECE_MS,
    PIECES,
    POINTS,
    RAW,
    WINDOW_MS,
    WORK_MS,
    RawEstuary,
    RawLadder,
    RawLifts,
    RawPieces,
    RawSprints,
)
from core.test_cue_claims import CHECKS as OF_A_RACE
from tallywire.core.cues import Cue, every_kind
from tallywire.core.cues.script import cue_script

pytestmark = pytest.mark.slow

H = TypeVar("H", bound=RawEstuary)


@cache
def told(heat: str) -> list[tuple[int, Cue]]:
    """The cues of one heat, each second."""
    competition = competition_of("estuary")
    return cue_script(competition, heat, recorded(f"estuary-{heat}"))


def number(cue: Cue, key: str) -> int:
    """A number of a cue."""
    found = cue.values[key]
    assert isinstance(found, int)
    return found


def is_a(heat: RawEstuary, kind: type[H]) -> H:
    """The heat as the one it is."""
    assert isinstance(heat, kind)
    return heat


def lane_of(cue: Cue, heat: RawEstuary, key: str = "name") -> int:
    """The lane a cue names."""
    return heat.lane(cue.values[key])


def check_clinched(cue: Cue, heat: RawEstuary) -> None:
    """100, 90, 80, 70 for the places, all four on the floor and none of them able to change it."""
    places = heat.places
    gained = sorted((POINTS[place - 1] for place in places.values()), reverse=True)
    assert heat.settled
    assert places[lane_of(cue, heat)] == 1
    assert number(cue, "points") == gained[0] - gained[1] > 0


def check_clinched_level(cue: Cue, heat: RawEstuary) -> None:
    """Two and no more are first."""
    named = {lane_of(cue, heat), lane_of(cue, heat, "other")}
    assert heat.settled
    assert {lane for lane, place in heat.places.items() if place == 1} == named


# The lift


def lift_of(cue: Cue, heat: RawEstuary, *, made: bool) -> tuple[RawLifts, RawLifts, int]:
    """The heat before and with the lift that was judged at the cue's time, and its lane."""
    lane, before = lane_of(cue, heat), RawLifts(heat.heat, cue.at_ms - 1)
    after = RawLifts(heat.heat, cue.at_ms)
    assert after.judged(lane)[-1] == (cue.at_ms, number(cue, "load_milli"), made)
    assert cue.values["unit"] == "kg"
    return before, after, lane


def check_lead_lift(cue: Cue, heat: RawEstuary) -> None:
    """Behind or level before it, alone in front with it, by so much on the one named."""
    before, after, lane = lift_of(cue, heat, made=True)
    other = lane_of(cue, heat, "other")
    assert before.places[other] == 1
    assert before.best(lane) <= before.best(other) > 0
    assert [each for each in LANES if after.places[each] == 1] == [lane]
    assert number(cue, "ahead_milli") == after.best(lane) - after.best(other)


def check_lift_level_lead(cue: Cue, heat: RawEstuary) -> None:
    """Not in front before it, first together with the one named with it."""
    before, after, lane = lift_of(cue, heat, made=True)
    assert (before.places[lane], after.places[lane]) == (number(cue, "place_before"), number(cue, "place"))
    assert {each for each in LANES if after.places[each] == 1} == {lane, lane_of(cue, heat, "other")}


def check_miss_lead(cue: Cue, heat: RawEstuary) -> None:
    """The load was more than anybody had lifted, and the lane was not in front."""
    before, after, lane = lift_of(cue, heat, made=False)
    assert number(cue, "load_milli") > max(before.best(each) for each in LANES) > before.best(lane)
    assert number(cue, "left") == after.left(lane)


def check_miss_leader_last(cue: Cue, heat: RawEstuary) -> None:
    """In front, no attempt left, and so many others have one."""
    before, after, lane = lift_of(cue, heat, made=False)
    assert before.places[lane] == after.places[lane] == 1
    assert len(after.judged(lane)) == ATTEMPTS
    assert number(cue, "best_milli") == after.best(lane)
    assert number(cue, "to_lift") == sum(RawLifts(heat.heat, heat.clock_ms).left(each) > 0 for each in LANES)


def check_on_the_bar(cue: Cue, heat: RawEstuary) -> None:
    """The load is declared, not judged, and this much more than anybody has lifted; the lane is not in front."""
    lifts, lane = is_a(heat, RawLifts), lane_of(cue, heat)
    assert lifts.of(lane, "attempt_declared")[-1]["at_ms"] == cue.at_ms
    assert lifts.open_milli(lane) == number(cue, "load_milli")
    assert lifts.places[lane] > 1
    assert number(cue, "ahead_milli") == number(cue, "load_milli") - max(map(lifts.best, LANES)) > 0


def check_finish_lift_level(cue: Cue, heat: RawEstuary) -> None:
    """All is judged, and exactly these two have the heaviest good lift."""
    lifts = is_a(heat, RawLifts)
    assert lifts.settled
    assert cue.at_ms == max(at_ms for lane in LANES for at_ms, _, _ in lifts.judged(lane))
    assert {lane for lane in LANES if lifts.places[lane] == 1} == {lane_of(cue, heat), lane_of(cue, heat, "other")}
    assert number(cue, "load_milli") == lifts.best(lane_of(cue, heat))


# The ladder


def check_out_one(cue: Cue, heat: RawEstuary) -> None:
    """The only one whose bar was open when this window closed; so many have made it."""
    ladder, lane = is_a(heat, RawLadder), lane_of(cue, heat)
    assert [each for each in LANES if ladder.out_ms(each) == cue.at_ms] == [lane]
    assert number(cue, "bar") == ladder.bars(lane) + 1 == cue.at_ms // WINDOW_MS
    assert cue.values["load"] == ladder.load(number(cue, "bar"))
    assert (number(cue, "lifts"), number(cue, "of")) == (ladder.done(lane) % LIFTS, LIFTS)
    assert number(cue, "left") == sum(ladder.bars(each) >= number(cue, "bar") for each in LANES)


def check_last_left(cue: Cue, heat: RawEstuary) -> None:
    """The others are out; the bar is the one after those made."""
    ladder, lane = is_a(heat, RawLadder), lane_of(cue, heat)
    outs = [ladder.out_ms(each) for each in LANES if each != lane]
    assert ladder.out_ms(lane) is None
    assert max(each for each in outs if each is not None) == cue.at_ms
    assert None not in outs
    assert number(cue, "bar") == ladder.bars(lane) + 1
    assert cue.values["load"] == ladder.load(number(cue, "bar"))


def check_bar_open(cue: Cue, heat: RawEstuary) -> None:
    """The only one still in that has not made the bar of this window, so long before it closes."""
    ladder, lane = is_a(heat, RawLadder), lane_of(cue, heat)
    bar = heat.clock_ms // WINDOW_MS + 1
    assert [each for each in LANES if ladder.out_ms(each) is None and ladder.bars(each) < bar] == [lane]
    assert number(cue, "bar") == bar
    assert number(cue, "to_go") == bar * LIFTS - ladder.done(lane)
    assert number(cue, "left_ms") == bar * WINDOW_MS - cue.at_ms
    assert cue.values["load"] == ladder.load(bar)


def check_finish_bars_lifts(cue: Cue, heat: RawEstuary) -> None:
    """Nobody is in; bars and lifts of the best, and lifts on the second."""
    ladder, lane, other = is_a(heat, RawLadder), lane_of(cue, heat), lane_of(cue, heat, "other")
    assert ladder.settled
    assert (ladder.places[lane], ladder.places[other]) == (1, 2)
    assert number(cue, "bars") * LIFTS + number(cue, "lifts") == ladder.done(lane)
    assert number(cue, "bars") == ladder.bars(lane)
    assert number(cue, "ahead_by") == ladder.done(lane) - ladder.done(other)


# Intervals


def check_piece_leads(cue: Cue, heat: RawEstuary) -> None:
    """The highest lowest count of the pieces so far, and so much more than the second."""
    pieces, count = is_a(heat, RawPieces), number(cue, "piece")
    reps = {lane: pieces.lowest(lane, count) for lane in LANES}
    first, second = sorted(LANES, key=lambda lane: -reps[lane])[:2]
    assert (lane_of(cue, heat), lane_of(cue, heat, "other")) == (first, second)
    assert (number(cue, "reps"), number(cue, "ahead_by")) == (reps[first], reps[first] - reps[second])
    assert cue.at_ms == (count - 1) * PIECE_MS + WORK_MS
    assert (number(cue, "pieces"), cue.values["counts"]) == (PIECES, "lowest")


def check_finish_pieces(cue: Cue, heat: RawEstuary) -> None:
    """After the last window the highest lowest count."""
    pieces = is_a(heat, RawPieces)
    reps = sorted((pieces.lowest(lane, PIECES) for lane in LANES), reverse=True)
    assert pieces.settled
    assert pieces.lowest(lane_of(cue, heat), PIECES) == reps[0] == number(cue, "reps")
    assert pieces.lowest(lane_of(cue, heat, "other"), PIECES) == reps[1]
    assert number(cue, "ahead_by") == reps[0] - reps[1]
    assert cue.values["counts"] == "lowest"


def check_piece_leads_time(cue: Cue, heat: RawEstuary) -> None:
    """The least time in the pieces so far, and by how much."""
    sprints, count = is_a(heat, RawSprints), number(cue, "piece")
    first, second = sorted(LANES, key=lambda lane: sprints.total_ms(lane, count))[:2]
    assert (lane_of(cue, heat), lane_of(cue, heat, "other")) == (first, second)
    assert number(cue, "time_ms") == sprints.total_ms(first, count)
    assert number(cue, "ahead_ms") == sprints.total_ms(second, count) - sprints.total_ms(first, count)
    assert cue.at_ms == (count - 1) * PIECE_MS + WORK_MS
    assert (number(cue, "pieces"), cue.values["counts"]) == (PIECES, "sum")


def check_piece_first(cue: Cue, heat: RawEstuary) -> None:
    """Nobody was home earlier in this piece."""
    sprints, piece = is_a(heat, RawSprints), number(cue, "piece")
    times = {lane: time for lane in LANES if (time := sprints.time_ms(lane, piece)) is not None}
    assert min(times, key=times.__getitem__) == lane_of(cue, heat)
    assert number(cue, "time_ms") == min(times.values()) == cue.at_ms - (piece - 1) * PIECE_MS


def check_sprint_finish(cue: Cue, heat: RawEstuary) -> None:
    """The times of all pieces added up, the place they give, the time to the one ahead; told when it was decided."""
    sprints, lane = is_a(heat, RawSprints), lane_of(cue, heat)
    order = sorted(LANES, key=lambda each: sprints.total_ms(each, PIECES))
    place = order.index(lane) + 1
    assert number(cue, "time_ms") == sprints.total_ms(lane, PIECES)
    assert number(cue, "place") == place
    ahead = order[place - 2] if place > 1 else lane
    assert number(cue, "behind_ms") == sprints.total_ms(lane, PIECES) - sprints.total_ms(ahead, PIECES)
    assert cue.values.get("ahead", cue.values["name"]) == heat.names[ahead]
    assert sprints.nobody_can_pass(number(cue, "time_ms"), than=set(order[:place]))
    assert cue.values.get("counts", "sum") == "sum"


CHECKS: dict[str, Callable[[Cue, RawEstuary], None]] = {
    "clinched": check_clinched,
    "clinched_level": check_clinched_level,
    "lead_lift": check_lead_lift,
    "lift_level_lead": check_lift_level_lead,
    "miss_lead": check_miss_lead,
    "miss_leader_last": check_miss_leader_last,
    "on_the_bar": check_on_the_bar,
    "finish_lift_level": check_finish_lift_level,
    "out_one": check_out_one,
    "last_left": check_last_left,
    "bar_open": check_bar_open,
    "finish_bars_lifts": check_finish_bars_lifts,
    "piece_leads": check_piece_leads,
    "finish_pieces": check_finish_pieces,
    "piece_leads_time": check_piece_leads_time,
    "piece_first": check_piece_first,
    "finish_first_pieces": check_sprint_finish,
    "finish": check_sprint_finish,
}


@pytest.mark.parametrize("heat", RAW)
def test_every_claim_holds(heat: str) -> None:
    """Every number in every cue is what a second count of the recording gives at that moment."""
    assert told(heat)
    for at_ms, cue in told(heat):
        CHECKS[cue.template](cue, RAW[heat](heat, at_ms))


@pytest.mark.parametrize("heat", RAW)
def test_every_check_refuses_a_wrong_number(heat: str) -> None:
    """Each number of each cue, changed by a little, fails its check: none of them is decoration."""
    for at_ms, cue in told(heat):
        raw = RAW[heat](heat, at_ms)
        for key, value in cue.values.items():
            if isinstance(value, int):
                wrong = replace(cue, values={**cue.values, key: value + 3})
                with pytest.raises((AssertionError, KeyError, ValueError, IndexError)):
                    CHECKS[cue.template](wrong, raw)
                    pytest.fail(f"{cue.template}: {key} may be {value + 3} as well as {value}")


@pytest.mark.parametrize("heat", RAW)
def test_every_name_is_the_one_it_should_be(heat: str) -> None:
    """Each name of each cue, changed for another lane's, fails its check."""
    for at_ms, cue in told(heat):
        raw = RAW[heat](heat, at_ms)
        for key, value in cue.values.items():
            for other in {*raw.names.values()} - {value} if value in raw.names.values() else ():
                wrong = replace(cue, values={**cue.values, key: other})
                if cue.template not in SYMMETRIC or other not in cue.values.values():
                    with pytest.raises((AssertionError, KeyError, ValueError, IndexError)):
                        CHECKS[cue.template](wrong, raw)
                        pytest.fail(f"{cue.template}: {key} may be {other} as well as {value}")


SYMMETRIC = ("clinched_level", "finish_lift_level")
"""Where two names stand side by side."""


def test_every_kind_is_checked() -> None:
    """The demo heat, whose kinds are those of its checks, and these four bring up every kind of cue."""
    assert set(OF_A_RACE) | {cue.kind for heat in RAW for _, cue in told(heat)} == set(every_kind())
