"""Who a view is about, what it needs before it may be taken, and what is wrong with what a rundown asks for."""

from __future__ import annotations

from typing import Any

import pytest

from core.folding import fold
from core.samples import CAP_MS, HEAT, Pad, competition, full_round
from tallywire.core.facts import Fact, HoldPlaced, HoldReleased
from tallywire.core.fold.heat import HeatState
from tallywire.core.show.catalogue import CATALOGUE, Known, missing, missing_by_lane, problems
from tallywire.core.show.subjects import held_lanes, parse_subject, subject_lanes

KNOWN = Known(
    heats={"h1": {1: "e1", 2: "e2"}, "h2": {5: "e5"}},
    divisions=frozenset({"women", "men"}),
    parts=frozenset({"sprint"}),
)
MEN = (3,)


def state(*facts: Fact, clock_ms: int = 40_000, started: bool = True) -> HeatState:
    """A heat of three: lanes 1 and 2 women, 3 a man."""
    start = [Pad("table-a").start()] if started else []
    return fold(competition(men=MEN), HEAT, [*start, *facts], clock_ms)


def race() -> list[Fact]:
    """Lane 2 is a round ahead of lane 1; lane 3 has done one rep."""
    return [*full_round(Pad("b", 2), 0), Pad("a", 1).reps(5000), Pad("c", 3).reps(6000)]


def home() -> list[Fact]:
    """Lane 2 has done all five rounds."""
    pad = Pad("b", 2)
    return [fact for n in range(5) for fact in full_round(pad, n * 22_000)]


def test_subjects_are_found_by_lane_entry_place_and_following() -> None:
    """Places speak of the lowest lane's division unless another is named; the fastest did most of late."""
    found = subject_lanes(state(*race()))
    wanted = {
        "lane:3": [3],
        "entry:e1": [1],
        "leader": [2],
        "place:2": [1],
        "battle:1": [2, 1],
        "leader@men": [3],
        "leader@women": [2],
        "fastest": [2],
    }
    assert {name: found[name] for name in wanted} == wanted
    assert not {"place:3", "battle:2", "finisher"} & set(found)


def test_before_the_first_rep_nobody_leads() -> None:
    """Then only lanes and entries can be named."""
    assert {name.partition(":")[0] for name in subject_lanes(state())} == {"lane", "entry"}


def test_who_came_in_last_is_the_finisher() -> None:
    """The newest finish is followed."""
    assert subject_lanes(state(*home(), clock_ms=200_000))["finisher"] == [2]


def test_the_fastest_is_measured_by_expected_time_over_half_a_minute() -> None:
    """Ten quick reps of a short station are less work than a block that takes three times as long; rest is nothing."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*full_round(one, 0), *[two.reps(41_000)], *[two.block(60_000)]]
    assert subject_lanes(state(*facts, clock_ms=22_000))["fastest"] == [1]
    assert subject_lanes(state(*facts, clock_ms=65_000))["fastest"] == [2]
    assert "fastest" not in subject_lanes(state(*facts, clock_ms=100_000))


def test_a_lane_on_medical_hold_is_nobody() -> None:
    """Neither by lane, entry nor place, and the reason is said; released, it is somebody again."""
    hold = Pad("b2", 2).conduct(HoldPlaced, 30_000)
    held = state(*race(), hold)
    assert held_lanes(held) == [2]
    assert not [name for name, lanes in subject_lanes(held).items() if 2 in lanes]
    assert missing("athlete", {"who": "lane:2"}, held) == "lane 2 is under a medical hold"
    released = state(*race(), hold, Pad("b3", 2).conduct(HoldReleased, 31_000))
    assert missing("athlete", {"who": "lane:2"}, released) is None


@pytest.mark.parametrize(
    ("view", "who", "reason"),
    [
        ("heat", None, None),
        ("runin", None, "the heat has not started"),
        ("finish", "lane:1", "the heat has not started"),
        ("athlete", "leader", "nobody is the leader now"),
        ("athlete", "lane:9", "lane 9 is not in this heat"),
        ("athlete", "entry:x", "entry x is not in this heat"),
    ],
)
def test_before_the_start_views_say_what_they_lack(view: str, who: str | None, reason: str | None) -> None:
    """A view is refused with the reason as long as what it needs is not there."""
    params = {} if who is None else {"who": who}
    assert missing(view, params, state(started=False)) == reason


def test_a_finish_card_needs_a_finish() -> None:
    """It is refused for a lane that works, and taken for one that is home."""
    over = state(*home(), *race()[-2:], clock_ms=200_000)
    assert missing("finish", {"who": "lane:1"}, over) == "lane 1 has not finished"
    assert missing("finish", {"who": "lane:2"}, over) is None


def test_the_run_in_ends_with_the_heat() -> None:
    """Once the clock is at the cap there is nothing to run in to."""
    assert missing("runin", {}, state(*race())) is None
    assert missing("runin", {}, state(*race(), clock_ms=CAP_MS)) == "the heat is over"


def test_a_score_that_the_event_does_not_have_is_refused() -> None:
    """The event of the heat on the floor has one result: a score of another event is not shown for it."""
    assert missing("event", {"part": "sprint"}, state(*race())) == "the event of this heat has no score sprint"
    assert missing("event", {}, state(*race())) is None


def test_two_subjects_that_are_one_lane_are_too_few() -> None:
    """A view of two is refused while both subjects are the same athlete."""
    reason = missing("duel", {"who": "leader,lane:2"}, state(*race()))
    assert reason is not None
    assert reason.startswith("found 1 lanes, expected 2")


def test_the_table_for_the_desk_agrees_with_the_refusals() -> None:
    """For every view about one lane and every lane, the table has the reason with which a take would be refused."""
    for now in (state(started=False), state(*race()), state(*home(), clock_ms=200_000), state(clock_ms=CAP_MS)):
        table = missing_by_lane(now)
        for view in CATALOGUE.values():
            for lane in now.lanes:
                params = {"who": f"lane:{lane}"} if view.least == 1 else {}
                if view.least > 1:
                    continue
                told = table.get(view.name, {})
                assert told.get("heat", told.get(str(lane)) if view.least else None) == missing(view.name, params, now)


@pytest.mark.parametrize(
    "text", ["", "lane", "lane:0", "lane:100", "lane:4@men", "leader:1", "battle", "fastest@men", "4"]
)
def test_what_is_no_subject_is_not_read(text: str) -> None:
    """Anything but the forms of the page is no subject."""
    assert parse_subject(text) is None


@pytest.mark.parametrize(
    ("view", "params", "wrong"),
    [
        ("heat", {}, None),
        ("heat", {"heat": "h2"}, None),
        ("athlete", {"who": "lane:5"}, None),
        ("duel", {"who": "battle:3@men"}, None),
        ("event", {"part": "sprint"}, None),
        ("event", {"part": "marathon"}, 'item.part: found "marathon", expected a scored part of an event: sprint'),
        ("heat", {"part": "sprint"}, 'item.part: found "sprint", expected only what heat takes: heat'),
        ("pace", {"who": "leader,place:2,lane:1"}, None),
        ("nothing", {}, 'item.view: found "nothing"'),
        ("heat", {"who": "leader"}, 'item.who: found "leader", expected only what heat takes'),
        ("heat", {"heat": "h9"}, 'item.heat: found "h9"'),
        ("athlete", {}, "item.who: found nothing"),
        ("athlete", {"who": "somebody"}, 'item.who: found "somebody"'),
        ("athlete", {"who": "lane:7"}, 'item.who: found "lane:7", expected a lane of the heat'),
        ("athlete", {"who": "lane:5", "heat": "h1"}, 'item.who: found "lane:5", expected a lane of the heat'),
        ("athlete", {"who": "entry:e9"}, 'item.who: found "entry:e9", expected an entry on a lane'),
        ("athlete", {"who": "leader@boys"}, 'item.who: found "leader@boys", expected a division'),
        ("athlete", {"who": "battle:1"}, "item.who: found 2 lanes, expected 1 for athlete"),
        ("pace", {"who": "battle:1,battle:2,leader"}, "item.who: found 5 lanes, expected 1 to 4 for pace"),
    ],
)
def test_a_rundown_is_checked_before_the_show(view: str, params: dict[str, Any], wrong: str | None) -> None:
    """An unknown view, parameter, heat, lane, entry or division, and too many or too few lanes are each named."""
    found = [str(problem) for problem in problems("item", view, params, KNOWN)]
    assert (found == []) if wrong is None else (len(found) == 1 and found[0].startswith(wrong)), found
