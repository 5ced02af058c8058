"""The call: gaps, pace, forecast, what is needed and cues in one frame."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.called import SALTMARSH, SCENARIOS, WOMEN, call, women
from core.examples import competition_of, recorded
from core.samples import HEAT, Pad, competition, full_round, workout
from tallywire.core.call.steps import see
from tallywire.core.call.whole import listen, look_ahead, wants_outlook
from tallywire.core.cues import CueDesk, Kind
from tallywire.core.facts import Fact, HoldPlaced, NoRepCalled
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Heat
from tallywire.core.model.workout import Station
from tallywire.core.ranking.points import TiePolicy
from tallywire.core.views.call_outlook import OVER, UNDER, _overall_chances
from tallywire.formats.intervals.rules import Counts, IntervalRules

EXAMPLES = sorted(SCENARIOS.glob("estuary-*.ndjson"))


def hold(lane: int, at_ms: int) -> Fact:
    """A medical hold on a lane of the demo heat."""
    return replace(Pad("table-hold", lane).conduct(HoldPlaced, at_ms), heat="women-2")


def numbers(value: Any) -> Iterator[Any]:
    """Everything in a frame that is not a container."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else None
    if inner is None:
        yield value
        return
    for each in inner:
        yield from numbers(each)


@pytest.mark.parametrize("at_ms", [100_000, *(pytest.param(ms, marks=pytest.mark.slow) for ms in (0, 300_000, 10**9))])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: str(path.stem))
def test_every_format_has_a_call_of_plain_numbers(path: Path, at_ms: int) -> None:
    """In no format does the call hold a null, an endless number or one that JSON cannot write."""
    work, facts = competition_of("estuary"), recorded(path.stem)
    frame = call(work, facts, facts[0].heat, at_ms)
    assert None not in list(numbers(frame))
    assert json.loads(json.dumps(frame, allow_nan=False))["lanes"]


def example(name: str, at_ms: int) -> dict[str, Any]:
    """The lanes of the call of a recorded example at a moment."""
    work, facts = competition_of("estuary"), recorded(f"estuary-{name}")
    lanes: dict[str, Any] = call(work, facts, facts[0].heat, at_ms)["lanes"]
    return lanes


def test_timed_pieces_are_told_with_what_they_took_and_what_will_count() -> None:
    """At the end the pieces of a lane add up to its result; in the last piece that lies in the forecast's 95 %."""
    before, after = example("sprints", 180_000), example("sprints", 10**9)
    for number, lane in after.items():
        minutes, seconds = lane["result"].split(":")
        total_ms = 60_000 * int(minutes) + round(1000 * float(seconds))
        assert abs(sum(piece["ms"] for piece in lane["piece_list"]) - total_ms) < 1000
        assert [piece["reps"] for piece in lane["piece_list"]] == [8, 8, 8]
        spread = before[number]["outlook"]["total_ms"]
        assert spread["low_95"] <= total_ms <= spread["high_95"]
        assert "total_ms" not in lane["outlook"]


def test_pieces_for_reps_are_told_with_their_counts() -> None:
    """The pieces add up to the count of the heat, and the plain totals are those of all pieces."""
    for lane in example("tides", 10**9).values():
        assert sum(piece["reps"] for piece in lane["piece_list"]) == sum(each["amount"] for each in lane["totals"])
        assert lane["scored_reps"] == sum(piece["reps"] for piece in lane["piece_list"])


def test_kilograms_of_pieces_are_told_where_all_are_known() -> None:
    """One station of a movement with a load and one without: kilograms after the first, none once both are in it."""
    loaded = Station(movement="jump", amount=2, loads={"women": "10 kg"})
    rules = IntervalRules(pieces=2, work_ms=30_000, rest_ms=10_000, counts=Counts.SUM, timed=False)
    work = replace(workout(kind="intervals", rounds=((loaded, replace(loaded, loads={})),), cap_ms=70_000), rules=rules)
    pad = Pad("a", 1)
    facts = [Pad("starter").start(), pad.reps(5_000, 2), pad.reps(45_000, 4)]
    first, both = (call(competition(work, lanes=1), facts, HEAT, at_ms)["lanes"]["1"] for at_ms in (20_000, 60_000))
    assert first["totals"] == [{"movement": "jump", "unit": "reps", "amount": 2, "kg": 20.0}]
    assert both["totals"] == [{"movement": "jump", "unit": "reps", "amount": 6}]
    facts = [Pad("starter").start(), pad.reps(5_000, 4), pad.reps(45_000, 2)]
    assert call(competition(work, lanes=1), facts, HEAT, 60_000)["lanes"]["1"]["totals"] == both["totals"]


def test_a_lift_is_told_by_its_attempts_and_a_ladder_by_its_next_bar() -> None:
    """The heaviest good attempt is the result; the next number of a ladder is the end of the bar in hand."""
    for lane in example("anchor", 10**9).values():
        good = [each["load_milli"] for each in lane["attempts"] if each["made"]]
        assert lane["result"] == f"{max(good) / 1000:g} kg"
    for lane in example("lock-ladder", 200_000).values():
        if lane["status"] == "working":
            assert lane["mark"]["scored"] == lane["scored_reps"] + lane["mark"]["to_it"]
            assert lane["mark"]["to_it"] == lane["station_amount"] - lane["station_done"]


def test_a_lane_is_told_by_its_stations() -> None:
    """The stations of a round add up to it; a transition is told only of a station that is told."""
    facts = [Pad("table-a").start(), *full_round(Pad("lane-1-a", 1), 0)]
    pace = call(competition(lanes=1), facts, HEAT, 30_000)["lanes"]["1"]["pace"]
    assert sum(pace["stations"]["1"].values()) == pace["rounds"]["1"]
    assert pace["transitions"]["1"].keys() <= pace["stations"]["1"].keys()


def test_the_same_facts_give_the_same_call() -> None:
    """Forecasts are drawn with one seed: what one commentator reads, another reads too."""
    assert women(440_000) == women(440_000)


def test_a_quick_call_is_the_call_without_what_takes_long() -> None:
    """What stands in the quick call stands in the full one as well."""
    quick, full = women(440_000, quick=True), women(440_000)
    assert quick["overall"] == {}
    for number, lane in quick["lanes"].items():
        assert {key: full["lanes"][number][key] for key in lane} == lane
        assert full["lanes"][number].keys() - lane.keys() == {"outlook", "stakes"}


def test_a_lane_is_told_by_its_gaps_marks_and_totals() -> None:
    """By hand: seven seconds behind at the last tap, four reps of the round and of the gap left, one block done."""
    facts = [Pad("table-a").start(), *full_round(Pad("lane-1-a", 1), 0), *full_round(Pad("lane-2-a", 2), 7_000)]
    lane = call(competition(lanes=2), facts, HEAT, 25_000)["lanes"]["2"]
    gap = {"lane": 1, "reps": 4, "work_ms": 12_000, "ms": 7_000, "precision": "exact"}
    assert lane["behind"] == {"leader": gap, "next": gap}
    assert lane["mark"]["scored"] == 22
    assert (lane["mark"]["ends"], lane["mark"]["to_it"], lane["mark"]["to_round_end"]) == ("round", 4, 4)
    assert {each["movement"]: each["amount"] for each in lane["totals"]} == {
        "sled haul": 1,
        "shuttle touch": 40,
        "sandbag over shoulder": 10,
        "box step-over": 6,
    }
    assert lane["pace"]["rate"] == 60
    assert (lane["pace"]["unbroken"], lane["pace"]["unbroken_of"], lane["pace"]["rests"]) == (1, 1, 0)


def test_a_lane_on_medical_hold_is_nowhere_in_the_call() -> None:
    """Neither its name nor its number: no gap is to it, nobody catches it, must beat it or stands behind it overall."""
    leader = women(440_000)["leader"]["lane"]
    name = women(440_000)["lanes"][str(leader)]["short"]
    frame = women(440_000, hold(leader, 400_000))
    assert name not in json.dumps(frame, ensure_ascii=False)
    assert leader not in frame["order"]
    gaps = [gap["lane"] for lane in frame["lanes"].values() for gap in lane["behind"].values()]
    chased = [number for chase in frame["chases"] for number in (chase["lane"], chase["ahead"])]
    told = [number for cue in frame["cues"] for number in cue["lanes"]]
    assert gaps
    assert leader not in [*gaps, *chased, *told]


@pytest.mark.parametrize("ties", TiePolicy)
def test_everybody_may_withdraw(ties: TiePolicy) -> None:
    """The call goes on when nobody is left who can have a result."""
    base = competition(lanes=2)
    work = replace(base, events={"event": replace(base.events["event"], ties=ties)})
    gone = [Pad("starter").start(), *(Pad(f"pad-{lane}", lane).withdraw(9_000) for lane in (1, 2))]
    assert [lane["status"] for lane in call(work, gone, HEAT, 10_000)["lanes"].values()] == ["withdrawn"] * 2


def test_chances_are_chances() -> None:
    """Places' chances add up to one (each is rounded to a per cent), and no cap is certain before it is."""
    for lane in women(440_000)["lanes"].values():
        outlook = lane["outlook"]
        for name in ("heat_places", "event_places", "overall_places"):
            assert sum(outlook[name]) == pytest.approx(1, abs=0.005 * len(outlook[name]) + 1e-9)
        assert 0 < outlook["inside_cap"] < 1


def test_no_chance_is_0_or_100_percent_without_proof() -> None:
    """Shortly before the cap many ends of the heat agree in every draw; still no chance is told as proof."""
    told = []
    for lane in women(770_000)["lanes"].values():
        if "outlook" in lane:
            told += [share for name in ("heat_places", "event_places") for share in lane["outlook"][name]]
            if lane["status"] == "working":
                told.append(lane["outlook"]["inside_cap"])
    assert {0.005, 0.995} <= set(told)
    assert min(told) > 0
    assert max(told) < 1


@pytest.mark.parametrize(
    ("within", "told"),
    [
        (None, [0.5, 0.3, 0.2]),
        ((1, 3), [0.5, 0.3, 0.2]),
        ((2, 3), [UNDER, 0.8, 0.2]),
        ((1, 2), [0.5, 0.5]),
        ((2, 2), [0, 1]),
        ((4, 5), [UNDER, UNDER, UNDER, OVER]),
    ],
)
def test_a_chance_beyond_what_is_proved_goes_to_the_nearest_place_within_it(
    within: tuple[int, int] | None, told: list[float]
) -> None:
    """Drawn 50, 30 and 20 % for first, second and third; 0 and 100 % are said only where one place alone is left."""
    assert _overall_chances((0.5, 0.3, 0.2), within) == told


def test_what_is_over_is_certain() -> None:
    """At the end of the demo heat the finishers made the cap, the capped did not, every place is proved, and no time is
    forecast.
    """
    for lane in women(780_000)["lanes"].values():
        if lane["status"] == "withdrawn":
            assert "outlook" not in lane
        else:
            assert lane["outlook"]["inside_cap"] == (1 if lane["status"] == "finished" else 0)
            assert "finish_ms" not in lane["outlook"]
            assert set(lane["outlook"]["heat_places"]) == {0, 1} or lane["outlook"]["heat_places"] == [1]


def test_the_clinched_lead_is_the_one_the_cue_tells_of() -> None:
    """At the end of the demo heat exactly the entry of the cue has the overall lead for certain."""
    frame = women(781_000)
    told = [cue["lanes"] for cue in frame["cues"] if cue["kind"] == "clinched"]
    assert [[lane["lane"]] for lane in frame["lanes"].values() if lane["stakes"]["clinched"]] == told


def test_the_gap_to_the_time_to_beat_is_the_delay_of_a_delayed_heat() -> None:
    """A heat that repeats the one before, every tap 3 s later, is 3 s behind its best at any point."""
    base = competition(lanes=2)
    work = replace(
        base,
        heats={
            HEAT: replace(base.heats[HEAT], lanes={1: "e1"}),
            "h2": Heat(id="h2", name="2", event="event", lanes={1: "e2"}),
        },
    )
    one, two = Pad("lane-1-a", 1), Pad("lane-1-b", 1)
    first = [Pad("table-a").start(), *[fact for n in range(5) for fact in full_round(one, n * 60_000)]]
    later: list[Fact] = [replace(Pad("table-b").start(), heat="h2")]
    later += [
        replace(fact, heat="h2", at_ms=fact.at_ms + 3_000) for n in range(5) for fact in full_round(two, n * 60_000)
    ]
    frame = call(work, [*first, *later], "h2", 200_000)
    assert frame["lanes"]["1"]["ghost"]["ms"] == 3_000
    assert frame["to_beat"]["women"]["entry"] == "e1"


def test_a_desk_opened_late_tells_no_reps_by_when_they_were_called() -> None:
    """Three no-reps of the last half minute are told with their own times; those of some time ago are not."""
    pad = Pad("lane-1-a", 1)
    facts = [Pad("table-a").start(), *full_round(pad, 0), *[pad.no_rep(23_000 + 4_000 * n) for n in range(3)]]
    assert sum(isinstance(fact, NoRepCalled) for fact in facts) == 3
    told = [cue for cue in call(competition(), facts, HEAT, 35_000)["cues"] if cue["kind"] == Kind.NO_REPS.value]
    assert [(cue["values"]["within_ms"], cue["at_ms"]) for cue in told] == [(8_000, 31_000)]
    late = call(competition(), facts, HEAT, 200_000)
    assert Kind.NO_REPS.value not in {cue["kind"] for cue in late["cues"]}


@pytest.mark.slow
def test_cues_ask_for_a_forecast_every_five_seconds() -> None:
    """In the second half of the time, with nobody watching: the desk goes on with the newest finish times between."""
    desk, asked = CueDesk(), []
    for at_ms in range(690_000, 711_000, 1000):
        known = [fact for fact in WOMEN if fact.heat != "women-2" or fact.at_ms <= at_ms]
        snapshot = CompetitionBook(SALTMARSH, known).at_clocks({"women-2": at_ms}, others_ms=10**9)
        sight = see(snapshot, snapshot.heats["women-2"])
        wanted = wants_outlook(sight, desk)
        asked += [at_ms] if wanted else []
        desk = listen(SALTMARSH, desk, sight, look_ahead(SALTMARSH, sight) if wanted else None)
        assert desk.expected_ms, "the finish times of the forecast are kept"
    assert asked == [690_000, 695_000, 700_000, 705_000, 710_000]


def test_arrows_of_the_overall_standing_point_the_way_that_was_gone() -> None:
    """Up for a smaller number than before the event, down for a larger one, level for the same."""
    rows = [row for division in women(600_000)["overall"].values() for row in division["rows"]]
    moved = [row["before"]["place"] - row["place"] for row in rows]
    assert [row["arrow"] for row in rows] == ["up" if n > 0 else "down" if n < 0 else "level" for n in moved]
    assert min(moved) < 0 < max(moved)
