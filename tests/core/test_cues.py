"""The cue desk: when it speaks, when it does not, and that it never says a thing twice."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.folding import fold
from core.looks import heat_script
from core.samples import HEAT, Pad, Script, competition, full_round, rounds_of_22, scripts, workout
from tallywire.core.cues import Cue, CueDesk, CueRules, Kind, Observation, OverallNote, cues, say
from tallywire.core.cues.counted import round_cues, unbroken_cues
from tallywire.core.cues.cue import weighed
from tallywire.core.cues.format_cues import every_kind
from tallywire.core.cues.leads import Lead, watch
from tallywire.core.cues.script import cue_script, desks
from tallywire.core.facts import Fact, HoldPlaced, HoldReleased, NoteSent, ViewTaken
from tallywire.core.fold.heat import HeatState
from tallywire.core.model.competition import Competition
from tallywire.formats.for_time_with_penalty.rules import CapPenalty
from tallywire.wire.cue_wording import default_wording

RULES = CueRules()


def script(
    facts: Iterable[Fact], *, lanes: int = 3, cap_ms: int = 900_000, kind: str = "for_time"
) -> list[tuple[int, Cue]]:
    """The cues of a heat of rounds of 22 (common practice, no source)."""
    return heat_script(of_rounds(lanes=lanes, cap_ms=cap_ms, kind=kind), [Pad("starter").start(), *facts])


def of_rounds(*, lanes: int = 3, cap_ms: int = 900_000, kind: str = "for_time") -> Competition:
    """Five rounds of 22 (common practice, no source), or rounds without end."""
    work = workout(kind=kind, cap_ms=cap_ms, rounds=rounds_of_22(1 if kind == "amrap" else 5))
    penalty = CapPenalty(each_ms=1_000) if kind == "for_time_with_penalty" else None
    return competition(replace(work, rules=penalty), lanes=lanes)


def kinds(said: Iterable[tuple[int, Cue]]) -> list[Kind]:
    """The kinds in the order they came up."""
    return [cue.kind for _, cue in said]


def laps(pad: Pad, *steps_ms: int) -> list[Fact]:
    """Rounds of 22 steps, each with a step of its own, one after the other."""
    facts, start_ms = list[Fact](), 0
    for step_ms in steps_ms:
        facts += full_round(pad, start_ms, step_ms=step_ms)
        start_ms += 22 * step_ms
    return facts


def stamped(fact_type: type[HoldPlaced] | type[HoldReleased], lane: int, at_ms: int) -> Fact:
    """A hold placed or released by the table."""
    return fact_type(id=f"hold.{at_ms}", heat=HEAT, at_ms=at_ms, sender="hold", sequence=at_ms, lane=lane)


def state_at(clock_ms: int, facts: Iterable[Fact] = ()) -> HeatState:
    """The heat at a moment."""
    return fold(competition(lanes=3), HEAT, [Pad("starter").start(), *facts], clock_ms)


def test_kinds_are_told_apart_and_weigh_less_further_back() -> None:
    """No two kinds have one name, none outweighs the greatest, and places further back weigh less, fifteen at most."""
    kinds = every_kind()
    assert len({kind.value for kind in kinds}) == len(kinds)
    assert all(0 < kind.weight <= 100 and kind.ttl_ms > 0 for kind in kinds)
    assert [weighed(Kind.CATCHING, behind) for behind in (0, 1, 5, 9)] == [60, 57, 45, 45]


def test_kinds_weigh_and_live_as_docs_cues_md_tells() -> None:
    """The table of the page has every kind with its weight and its time to live."""
    page = (Path(__file__).parents[2] / "docs" / "cues.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| `(\w+)` \| (\d+) \| (\d+) \|", page, re.MULTILINE)
    assert {kind: (int(weight), 1_000 * int(lives)) for kind, weight, lives in told} == {
        kind.value: (kind.weight, kind.ttl_ms) for kind in every_kind()
    }


def test_the_limits_are_those_that_docs_cues_md_tells() -> None:
    """Six a minute, five seconds apart; two kept for weight 70, two seconds apart; a lead is held for four seconds."""
    assert (RULES.a_minute, RULES.spacing_ms, RULES.reserved, RULES.urgent) == (6, 5_000, 2, 70)
    assert (RULES.urgent_spacing_ms, RULES.holds_ms, RULES.run_in_reps) == (2_000, 4_000, 5)
    assert (RULES.no_reps, RULES.no_reps_within_ms, RULES.unbroken_least) == (3, 30_000, 8)
    assert (RULES.alternates_ms, RULES.rest_ms, RULES.finish_settles_ms) == (60_000, 90_000, 1_500)
    assert (RULES.chase_within_ms, RULES.chase_cut_ms, RULES.catch_within_ms) == (20_000, 3_000, 150_000)
    assert (RULES.cap_margin_ms, RULES.cap_reach_ms, RULES.forecast_every_ms) == (8_000, 60_000, 5_000)


def test_nothing_is_said_when_nothing_happens() -> None:
    """A heat that has not started, and one in which nobody moves, are silent."""
    assert script([]) == []
    assert cues(CueDesk(), Observation(state=fold(competition(), HEAT, []))).fresh == ()


def test_facts_beside_the_counts_change_no_cue() -> None:
    """Takes of the desk and notes for the booth, whose order is that of wall time, leave the script as it is."""
    pad = Pad("lane-1-a", 1)
    facts: list[Fact] = [Pad("table-a").start(), *laps(pad, 2000, 2100, 2200)]
    stamp: dict[str, Any] = {"heat": HEAT, "unix_ms": 1_800_000_000_500, "sequence": 1}
    taken = ViewTaken(id="d.1", at_ms=500, sender="desk-a", output="world", view="heat", params={}, **stamp)
    sent = NoteSent(id="s.1", at_ms=700, sender="spotter-a", text="chalk", spotter="Ada", **stamp)
    script = cue_script(of_rounds(), HEAT, facts)
    assert script
    assert cue_script(of_rounds(), HEAT, [*facts, taken, sent]) == script


def test_a_finish_waits_for_the_judges_call_and_names_the_gap() -> None:
    """The finish cue carries the judge's time, not the last tap's, and the next one how far behind it was."""
    one, two = Pad("a", 1), Pad("b", 2)
    said = script([*laps(one, *[1000] * 5), one.finish(111_000), *laps(two, *[1100] * 5)])
    finishes = [cue for _, cue in said if cue.kind is Kind.FINISH]
    assert [cue.values["time_ms"] for cue in finishes] == [111_000, 121_000]
    assert (finishes[1].values["behind_ms"], finishes[1].values["ahead"]) == (10_000, "E1")


def test_a_tie_is_told_in_one_line() -> None:
    """Two who finish in the same millisecond share one cue and one place."""
    said = script([*laps(Pad("a", 1), *[1000] * 5), *laps(Pad("b", 2), *[1000] * 5)])
    finishes = [cue for _, cue in said if cue.kind is Kind.FINISH]
    assert [(cue.template, cue.values["place"]) for cue in finishes] == [("finish_level", 1)]


def test_first_through_a_round_is_told_once_a_round_and_not_of_the_last() -> None:
    """Four of five rounds have a first; the fifth is the finish."""
    said = script([*laps(Pad("a", 1), *[2000] * 5), *laps(Pad("b", 2), *[2100] * 5)])
    firsts = [cue.values["round"] for _, cue in said if cue.kind is Kind.ROUND_FIRST]
    assert firsts == [1, 2, 3, 4]


def test_nobody_is_first_through_a_round_that_two_complete_together() -> None:
    """Level after one round and apart after the next: the first is not told, the second is."""
    said = script([*laps(Pad("a", 1), 2000, 2000, 2000), *laps(Pad("b", 2), 2000, 2100, 2100)])
    assert [cue.values["round"] for _, cue in said if cue.kind is Kind.ROUND_FIRST] == [2, 3]


def test_a_lead_counts_once_it_was_held() -> None:
    """A lead of less than four seconds is not told; one that lasts is told four seconds after it began."""
    lead = watch(Lead(), "a", 0, RULES)
    lead = watch(lead, "a", 4_000, RULES)
    assert (lead.holder, lead.told) == ("a", None)
    brief = watch(watch(lead, "b", 5_000, RULES), "a", 8_000, RULES)
    assert (brief.holder, brief.rival) == ("a", None)
    lasting = watch(watch(lead, "b", 5_000, RULES), "b", 9_000, RULES)
    assert (lasting.holder, lasting.before, lasting.told) == ("b", "a", "taken")


def test_two_who_alternate_are_said_to_trade_the_lead_once() -> None:
    """Every six seconds another leader: one change, one trade, then silence for a minute and a half."""
    lead, told = Lead(), list[tuple[int, str]]()
    for now_ms in range(0, 90_000, 1_000):
        leader = "ab"[now_ms // 6_000 % 2]
        after = watch(lead, leader, now_ms, RULES)
        if after.holder != lead.holder and after.told is not None:
            told.append((now_ms, after.told))
        lead = after
    assert told == [(10_000, "taken"), (16_000, "traded")]


def test_a_chaser_is_told_with_gap_and_time_at_present_rates() -> None:
    """A chaser a second a step slower in round one and half a second quicker after: n steps into round two the gap is
    22 - n/2 seconds, it was n seconds a round before, and what it lost in that time is what it loses from now on."""
    ahead, chaser = Pad("a", 1), Pad("b", 2)
    said = script([*laps(ahead, 2000, 2500, 2500, 2500), *laps(chaser, 3000, 2000, 2000, 2000)])
    at_ms, found = next((at_ms, cue) for at_ms, cue in said if cue.kind is Kind.CATCHING)
    steps = (at_ms - 22 * 3000) // 2000
    gap_ms, was_ms = 22_000 - 500 * steps, 1000 * steps
    assert (found.values["name"], found.values["ahead"], found.template) == ("E2", "E1", "catching_leader")
    assert (found.values["gap_ms"], found.values["was_ms"]) == (gap_ms, was_ms)
    assert found.values["catch_ms"] == round(gap_ms * (at_ms - 3000 * steps) / (was_ms - gap_ms))


def test_a_gap_that_closes_by_a_second_a_round_is_no_chase() -> None:
    """Three seconds behind after one round and two after the next: level within 150 s, but too slowly to be told."""
    said = script([*laps(Pad("a", 1), *[2000] * 4), *laps(Pad("b", 2), 2136, 1955, 1955, 1955)])
    assert Kind.CATCHING not in kinds(said)


def test_the_cap_is_in_danger_by_the_forecast() -> None:
    """In a race for time the forecast says by how much, in words of its own: told after half the time, and once."""
    facts = [Pad("starter").start(), *laps(Pad("a", 1), *[1380] * 3)]
    said = cue_script(of_rounds(cap_ms=140_000), HEAT, facts)
    found = [(at_ms, cue) for at_ms, cue in said if cue.kind is Kind.CAP_DANGER]
    assert [cue.template for _, cue in found] == ["cap_danger_forecast"]
    assert found[0][0] >= 70_000
    assert RULES.cap_margin_ms <= int(found[0][1].values["over_ms"]) <= RULES.cap_reach_ms


def test_without_a_forecast_the_cap_is_in_danger_by_the_last_round() -> None:
    """At the rate of its last round a lane is ten seconds over: told after half the time, not before, and once."""
    said = script(laps(Pad("a", 1), *[1380] * 3), cap_ms=140_000, kind="for_time_with_penalty")
    found = [(at_ms, cue) for at_ms, cue in said if cue.kind is Kind.CAP_DANGER]
    assert len(found) == 1
    assert found[0][0] >= 70_000
    assert found[0][1].values["over_ms"] == pytest.approx(5 * 22 * 1380 - 140_000, abs=4_000)


def test_no_reps_that_come_in_together_are_not_told_as_a_run() -> None:
    """Five with the same time, as from a pad that had lost the clock, say nothing about when they were called."""
    pad = Pad("a", 1)
    said = script([*full_round(pad, 0), *[pad.no_rep(30_500 + n) for n in range(5)]])
    assert Kind.NO_REPS not in kinds(said)


def test_a_run_of_no_reps_is_told_once() -> None:
    """Three no-reps within half a minute are a run; two are not, and the run is not told again as it goes on."""
    pad = Pad("a", 1)
    two = [pad.reps(1_000), pad.no_rep(2_000), pad.no_rep(5_000)]
    assert Kind.NO_REPS not in kinds(script(two))
    said = [cue for _, cue in script([*two, pad.no_rep(9_000), pad.no_rep(12_000)]) if cue.kind is Kind.NO_REPS]
    assert [(cue.values["count"], cue.values["within_ms"]) for cue in said] == [(3, 7_000)]


def test_a_lane_on_a_medical_hold_is_never_spoken_of() -> None:
    """From the hold to its release no cue names the lane, and what is on the desk about it goes at once."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*laps(one, *[1000] * 5), *laps(two, *[1100] * 5)]
    open_desk = script(facts)
    assert any(1 in cue.lanes for _, cue in open_desk)
    held = script([*facts, stamped(HoldPlaced, 1, 10)])
    assert not any(1 in cue.lanes or "E1" in cue.values.values() for _, cue in held)
    assert any(2 in cue.lanes for _, cue in held)
    desk = cues(CueDesk(), Observation(state=state_at(22_500, full_round(one, 0))))
    assert [cue.lanes for cue in desk.current] == [(1,)]
    hold = [*full_round(one, 0), stamped(HoldPlaced, 1, 22_600)]
    assert cues(desk, Observation(state=state_at(23_000, hold))).current == ()


def test_a_correction_takes_back_what_it_makes_untrue() -> None:
    """A round that turns out one rep short is taken off the desk; when it is done it is not told again."""
    one = Pad("a", 1)
    facts: list[Fact] = full_round(one, 0)
    desk = cues(CueDesk(), Observation(state=state_at(22_500, facts)))
    assert [cue.kind for cue in desk.current] == [Kind.ROUND_FIRST]
    facts.append(Pad("table-a", 1).correct(23_000, 21))
    desk = cues(desk, Observation(state=state_at(23_500, facts)))
    assert desk.current == ()
    facts.append(one.reps(25_000))
    assert cues(desk, Observation(state=state_at(25_500, facts))).fresh == ()


def test_withdrawal_time_up_and_the_winner_on_time() -> None:
    """A withdrawal is told when it happens; at the cap, those short of the finish; on fixed time, the winner."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*laps(one, *[1000] * 4), *full_round(two, 0), two.withdraw(30_000)]
    said = script(facts, cap_ms=100_000)
    assert {Kind.WITHDRAWAL, Kind.TIME_UP} <= set(kinds(said))
    closest = next(cue for _, cue in said if cue.kind is Kind.TIME_UP)
    assert (closest.values["name"], closest.values["to_go"], closest.values["capped"]) == ("E1", 22, 2)
    timed = script([*laps(one, *[1000] * 4), *full_round(two, 0)], cap_ms=100_000, kind="amrap")
    winner = next(cue for _, cue in timed if cue.kind is Kind.FINISH)
    assert (winner.values["name"], winner.values["reps"], winner.values["ahead_by"]) == ("E1", 88, 66)


def test_overall_lead_and_clinch_come_from_the_notes() -> None:
    """The overall lead is told after it has held, clinched at once, both with the entries' names."""
    desk = CueDesk()
    note = OverallNote(division="women", leader="e1", second="e2", points=10)
    said: list[Cue] = []
    for clock_ms in range(0, 20_000, 1_000):
        now = note if clock_ms < 8_000 else replace(note, leader="e2", second="e1", points=5)
        now = replace(now, clinched="e2") if clock_ms >= 18_000 else now
        desk = cues(desk, Observation(state=state_at(clock_ms), overall=(now,)))
        said += desk.fresh
    assert [(cue.kind, cue.values["name"], cue.values["points"]) for cue in said] == [
        (Kind.OVERALL_LEAD, "E2", 5),
        (Kind.CLINCHED, "E2", 5),
    ]


@pytest.mark.parametrize(
    ("points", "words"),
    [(0.4, "from E1, by 0.4 points."), (1, "from E1, by one point."), (0, "from E1; E1 has as many points.")],
)
def test_an_overall_lead_is_never_taken_by_no_points(points: float, words: str) -> None:
    """A lead of less than a point is told with its decimals; one that a tie rule gives is told as that."""
    desk, said = CueDesk(), []
    for clock_ms in range(0, 20_000, 1_000):
        first, second = ("e1", "e2") if clock_ms < 8_000 else ("e2", "e1")
        note = OverallNote(division="women", leader=first, second=second, points=points)
        desk = cues(desk, Observation(state=state_at(clock_ms), overall=(note,)))
        said += [say(cue, default_wording()) for cue in desk.fresh]
    assert said == [f"As it stands E2 takes the overall lead {words}"]


def test_time_up_counts_each_division_apart() -> None:
    """Two women and a man are capped: each division hears of its own, with its own closest."""
    facts = [*laps(Pad("a", 1), 1000), *laps(Pad("b", 2), 2000), *laps(Pad("c", 3), *[1000] * 2)]
    heat = replace(of_rounds(cap_ms=100_000), entries=competition(lanes=3, men={3}).entries)
    said = heat_script(heat, [Pad("starter").start(), *facts])
    told = [cue.values for _, cue in said if cue.kind is Kind.TIME_UP]
    assert sorted((each["division"], each["name"], each["capped"], each["to_go"]) for each in told) == [
        ("men", "E3", 1, 66),
        ("women", "E1", 2, 88),
    ]


def test_the_standing_of_a_heat_gives_the_clinch() -> None:
    """In the only heat of an event the winner on level points has clinched once it is called and cannot be passed."""
    pad = Pad("a", 1)
    home = laps(pad, *[1000] * 5)
    facts = [*home, pad.finish(home[-1].at_ms), *laps(Pad("b", 2), *[1100] * 5), *laps(Pad("c", 3), 4000)]
    said = cue_script(of_rounds(), HEAT, [Pad("starter").start(), *facts])
    clinched = [(at_ms, cue.values["name"]) for at_ms, cue in said if cue.kind is Kind.CLINCHED]
    assert [name for _, name in clinched] == ["E1"]
    assert clinched[0][0] < 125_000


def test_a_heat_of_two_divisions_names_the_division() -> None:
    """With men and women on the floor together each cue says whose race it is."""
    mixed = competition(lanes=4, men=[3, 4])
    facts = [Pad("starter").start(), *full_round(Pad("a", 1), 0), *full_round(Pad("c", 3), 0, step_ms=1500)]
    said = cue_script(mixed, HEAT, facts)
    assert [(cue.values["name"], cue.values["division"]) for _, cue in said] == [("E1", "Women"), ("E3", "Men")]


@pytest.mark.slow
@pytest.mark.parametrize("a_minute", [2, 6])
def test_no_more_than_the_limit_in_any_minute(a_minute: int) -> None:
    """Eight lanes that finish within twenty seconds give no more cues in any minute than the rules allow."""
    pads = [Pad(f"lane-{n}", n) for n in range(1, 9)]
    facts = [fact for n, pad in enumerate(pads) for fact in laps(pad, *[1000 + 20 * n] * 5)]
    rules = CueRules(a_minute=a_minute, reserved=1)
    said = heat_script(competition(lanes=8), [Pad("starter").start(), *facts], rules=rules)
    times = [at_ms for at_ms, _ in said]
    assert len(times) >= a_minute
    assert all(sum(at_ms - 60_000 < each <= at_ms for each in times) <= a_minute for at_ms in times)


def test_a_run_in_is_left_to_the_commentator() -> None:
    """While the leader has its last five reps to go, a run of no-reps has to wait; with ten to go it is told."""
    one, two = Pad("a", 1), Pad("b", 2)
    leader = laps(one, *[1000] * 5)[:-3]
    calls: list[Fact] = [two.reps(500), *(two.no_rep(at_ms) for at_ms in (106_000, 106_600, 107_200))]
    begun = cues(CueDesk(), Observation(state=state_at(106_400, [*leader[:-7], *calls[:-1]])))
    late = cues(begun, Observation(state=state_at(107_500, [*leader, *calls])))
    assert Kind.NO_REPS not in {cue.kind for cue in late.fresh}
    early = cues(begun, Observation(state=state_at(107_500, [*leader[:-7], *calls])))
    assert Kind.NO_REPS in {cue.kind for cue in early.fresh}


def test_the_heaviest_comes_first_when_two_compete() -> None:
    """Of what happens in one second the weightier is told, and the other only when there is room again."""
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [*laps(one, *[1000] * 5), *full_round(two, 0, step_ms=5_080)]
    said = [(at_ms, cue) for at_ms, cue in script(facts) if at_ms > 100_000]
    assert said[0][1].kind in (Kind.CLINCHED, Kind.FINISH)
    assert all(earlier.weight >= Kind.UNBROKEN.weight - 15 for _, earlier in said)


@pytest.mark.slow
@given(scripts(lanes=3), st.integers(0, 30))
def test_laws_of_the_desk(made: Script, hold_s: int) -> None:
    """Over random heats: the same script twice; no key twice; the limit holds; nothing old; nothing of a held lane."""
    facts = [fact for each in made.values() for fact in each] + [stamped(HoldPlaced, 2, hold_s * 1000)]
    said = cue_script(competition(), HEAT, facts, step_ms=9_000)
    assert said == cue_script(competition(), HEAT, list(reversed(facts)), step_ms=9_000)
    lasting = [cue.key for _, cue in said if cue.since_ms == 0]
    assert len(lasting) == len(set(lasting))
    assert all(cue.at_ms <= at_ms < cue.until_ms for at_ms, cue in said)
    assert not any(2 in cue.lanes for at_ms, cue in said if at_ms >= hold_s * 1000)
    times = [at_ms for at_ms, _ in said]
    assert all(later - earlier >= RULES.urgent_spacing_ms for earlier, later in pairwise(times))
    assert all(sum(at_ms - 60_000 < each <= at_ms for each in times) <= RULES.a_minute for at_ms in times)


@pytest.mark.parametrize(("clock_ms", "wants"), [(9_999, True), (10_000, False), (14_999, False), (15_000, True)])
def test_a_forecast_is_asked_again_after_five_seconds_or_when_the_clock_went_back(clock_ms: int, wants: bool) -> None:
    """One of 0:10 holds at its own instant and up to 0:15; without any, one is wanted."""
    assert CueDesk().wants_forecast(clock_ms)
    assert CueDesk(forecast_ms=10_000).wants_forecast(clock_ms) is wants


def test_rounds_of_different_stations_are_through_at_their_own_last_one() -> None:
    """After a round of two stations and one of one, the first through each is told at its own time."""
    work = replace(workout(), rounds=(rounds_of_22(1)[0][:2], rounds_of_22(1)[0][:1], rounds_of_22(1)[0]))
    pad = Pad("lane-1", 1)
    facts = [Pad("starter").start(), pad.reps(1_000), pad.block(20_000), pad.reps(30_000)]
    state = fold(competition(work, lanes=2), HEAT, facts, 31_000)
    seen = Observation(state=state, overall=(), expected_ms={}, names={}, divisions={})
    found = [(cue.values["round"], cue.at_ms) for cue in round_cues(seen, [*state.lanes.values()])]
    assert found == [(1, 20_000), (2, 30_000)]


def test_one_alone_wins_nothing_when_fixed_time_is_up() -> None:
    """The win on fixed time is told of two, by how much, and of one alone in its division nothing is said."""
    facts = laps(Pad("lane-1", 1), 1_000, 1_000)
    alone, two = (script(facts, lanes=lanes, kind="amrap", cap_ms=60_000) for lanes in (1, 2))
    assert Kind.FINISH not in kinds(alone)
    assert [cue.template for _, cue in two if cue.kind is Kind.FINISH] == ["finish_won"]


def broken_round(pad: Pad) -> list[Fact]:
    """One round whose first ten are broken up by a rest of 15 seconds."""
    whole = full_round(pad, 0, step_ms=1_000)
    return [replace(fact, at_ms=fact.at_ms + 15_000 * (fact.at_ms > 7_000)) for fact in whole]


@pytest.mark.parametrize(
    ("through", "whole", "told"), [(4, 1, [1]), (4, 2, [1, 2]), (4, 3, []), (3, 1, [1]), (2, 1, [])]
)
def test_a_set_without_a_break_is_told_where_at_least_half_had_to_break_it(
    through: int, whole: int, told: list[int]
) -> None:
    """Of four through ten reps, one or two who did them in one set are named; of three it is nothing special, and of
    two through it says nothing.
    """
    pads = [Pad(f"lane-{n}", n) for n in range(1, through + 1)]
    facts = [fact for pad in pads[:whole] for fact in full_round(pad, 0, step_ms=1_000)]
    facts += [fact for pad in pads[whole:] for fact in broken_round(pad)]
    state = fold(competition(lanes=4), HEAT, [Pad("starter").start(), *facts], 28_000)
    seen = Observation(state=state, overall=(), expected_ms={}, names={}, divisions={})
    assert [lane for cue in unbroken_cues(seen, RULES, [*state.lanes.values()]) for lane in cue.lanes] == told


def test_one_alone_in_its_division_is_first_through_no_round() -> None:
    """With nobody to be ahead of, nobody is said to be the first through a round."""
    pad = Pad("lane-1", 1)
    assert Kind.ROUND_FIRST not in kinds(script(laps(pad, 1_000, 1_000), lanes=1))
    assert Kind.ROUND_FIRST in kinds(script(laps(pad, 1_000, 1_000), lanes=2))


@pytest.mark.parametrize(("step_ms", "looks"), [(60_003, 1), (60_004, 0)])
def test_the_desk_listens_for_a_minute_after_the_last_fact(step_ms: int, looks: int) -> None:
    """A cue may wait for room so long: looked at in steps of that length, with the last fact at 3 ms."""
    facts = [Pad("starter").start(), Pad("lane-1", 1).reps(3)]
    assert len(list(desks(of_rounds(), HEAT, facts, step_ms=step_ms))) == looks
