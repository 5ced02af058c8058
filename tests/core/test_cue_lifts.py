"""Cues of lifts, against heats made up by hand."""

from __future__ import annotations

from core.cue_heats import (
    WORDING,
    current,
    desk_after,
    lift,
    lift_work,
    lifts,
    lines,
    told,
)
from core.folding import fold
from core.samples import HEAT, Pad
from core.test_cues import stamped
from tallywire.core.cues import Kind, Observation, cues, say
from tallywire.core.facts import Disqualified, HoldPlaced
from tallywire.formats.max_load.cues import ON_THE_BAR


def test_opening_lifts_are_silent_but_for_the_lead() -> None:
    """Of three openers the second takes the lead; nobody is said to go up a place."""
    assert lines(lift_work(), [*lifts(1, 80), *lifts(2, 82.5), *lifts(3, 75)]) == [
        "E2 takes the lead in the heat with 82.5 kilograms, 2.5 kilograms more than E1.",
        "E2 wins the heat with 82.5 kilograms, 2.5 kilograms more than E1.",
    ]


def test_a_place_gained_by_a_good_lift_is_told_alone_and_level() -> None:
    """Third goes up to second; then the last draws level with it; one that only adds to its own load is not told."""
    facts = [*lifts(1, 90, 91), *lifts(2, 70, 80), *lifts(3, 75, 75.5), *lifts(4, 60, 80)]
    assert lines(lift_work(lanes=4), facts)[:-1] == [
        "E2 makes 80 kilograms: up from third to second in the heat.",
        "E4 makes 80 kilograms: up from fourth to second in the heat, level with E2.",
    ]


def test_a_bar_for_the_lead_is_told_until_it_is_lifted() -> None:
    """It stands while the attempt is open and goes with the judge's call, good or not."""
    facts = [*lifts(1, 80), *lifts(2, 70, -85)]
    before = desk_after(lift_work(), facts, 60_000, 75_000, 80_000)
    assert current(before) == ["E2 has 85 kilograms on the bar: a good lift takes the lead by five kilograms."]
    after = desk_after(lift_work(), facts, 60_000, 75_000, 80_000, 93_000)
    assert current(after) == []


def test_misses_that_matter() -> None:
    """One attempt left without a good lift; none left; the leader's last; one that would have been the lead."""
    assert lines(lift_work(2), [*lifts(1, 80, 85), *lifts(2, -70, -70, apart_ms=65_000)])[:1] == [
        "E2 misses 70 kilograms: no good lift yet, and one attempt left."
    ]
    no_lift = lines(lift_work(2), [*lifts(1, -80, -80), *lifts(2, 70), *lifts(3, 60)])
    assert "E1 misses 80 kilograms with the last attempt and has no good lift." in no_lift
    leader = lines(lift_work(2), [*lifts(1, 80, -85), *lifts(2, 70), *lifts(3, 60)])
    assert (
        "E1, in front with 80 kilograms, misses 85 kilograms with the last attempt; two lanes can still lift." in leader
    )
    chaser = lines(lift_work(), [*lifts(1, 80), *lifts(2, 70, -85), *lifts(3, 60)])
    assert chaser[-2:] == ["E2 misses 85 kilograms, which would have been the lead; one attempt left.", WON_80]


WON_80 = "E1 wins the heat with 80 kilograms, ten kilograms more than E2."


def test_a_miss_that_changes_nothing_is_not_told() -> None:
    """A last miss below the lead, and the last miss of all, which the result tells."""
    assert lines(lift_work(2, lanes=2), [*lifts(1, 80, -81, first_ms=35_000), *lifts(2, 70, -75)]) == [
        "E1 takes the lead in the heat with 80 kilograms, ten kilograms more than E2.",
        WON_80,
    ]


def test_a_first_good_lift_with_the_last_attempt_is_told() -> None:
    """Two misses, then a good lift while the other can still lift."""
    facts = [*lifts(1, -70, -70, 70), *lifts(2, 60, 65), *lifts(3, 90)]
    assert "E1 makes 70 kilograms, a first good lift with the last attempt: second in the heat." in lines(
        lift_work(), facts
    )


def test_the_win_of_a_lift_is_told_when_nobody_can_lift_any_more() -> None:
    """At the last judged attempt where attempts are numbered, at the cap where they are not or are left over."""
    full = told(lift_work(1), [*lifts(1, 80), *lifts(2, 70), *lifts(3, 60)])
    assert [(at_ms, cue.template) for at_ms, cue in full] == [(35_000, "finish_lift")]
    decisive = told(lift_work(1, lanes=2), [*lifts(1, 80), *lifts(2, 85)])
    assert [cue.template for _, cue in decisive] == ["finish_lift"]
    endless = told(lift_work(None), [*lifts(1, 80), *lifts(2, 70)])
    assert [(at_ms, cue.template) for at_ms, cue in endless] == [(302_000, "finish_lift")]


def test_a_lift_declared_in_time_holds_the_win_back_until_it_is_judged() -> None:
    """The bar that could be the win is called after the cap: only then is the win told."""
    late = Pad("lane-2", 2)
    facts = [*lifts(1, 80, -81, -81), *lift(late, 50_000, 70, good=True), *lift(late, 310_000, 90, good=True)]
    found = told(lift_work(lanes=2), facts)
    assert [(at_ms, say(cue, WORDING)) for at_ms, cue in found if cue.kind is Kind.FINISH] == [
        (312_000, "E2 wins the heat with 90 kilograms, ten kilograms more than E1.")
    ]


def test_nobody_wins_without_a_good_lift_and_three_share_in_one_line() -> None:
    """All miss: silence. Three on the same load: one line."""
    assert lines(lift_work(1, lanes=2), [*lifts(1, -80), *lifts(2, -80)]) == []
    assert lines(lift_work(1), [*lifts(1, 80), *lifts(2, 80), *lifts(3, 80)]) == [
        "Three share the win in the heat, E1 among them."
    ]
    assert lines(lift_work(1, lanes=2), [*lifts(1, 80), *lifts(2, -80)]) == ["E1 wins the heat."]
    stopped = lines(lift_work(2, lanes=2), [*lifts(1, 80, 81), *lifts(2, 70), Pad("lane-2b", 2).withdraw(50_000)])
    assert stopped == ["E2 has stopped and will not go on.", "E1 wins the heat."]


def test_a_warning_of_one_attempt_left_goes_with_that_attempt() -> None:
    """It stands until the next attempt is judged, whatever the call."""
    work, pad = lift_work(2), Pad("lane-2", 2)
    quick = [pad.declare(25_000, 70_000), pad.failed(32_000), pad.declare(33_000, 70_000), pad.made(44_000)]
    facts = [*lifts(1, 80), *quick, *lifts(3, 75)]
    assert current(desk_after(work, facts, 35_000)) == [
        "E2 misses 70 kilograms: no good lift yet, and one attempt left."
    ]
    assert current(desk_after(work, facts, 35_000, 44_500)) == []


def test_misses_are_no_run_of_no_reps() -> None:
    """Three misses in half a minute are told as what they are."""
    pad, facts = Pad("lane-2", 2), lifts(1, 80)
    for at_ms in (40_000, 48_000, 56_000):
        facts += [pad.declare(at_ms, 70_000), pad.failed(at_ms + 5_000)]
    found = told(lift_work(None), facts)
    assert Kind.NO_REPS not in {cue.kind for _, cue in found}


def test_a_lift_taken_back_takes_its_cue_back() -> None:
    """When a lift is voided, its cue of the lead goes, and it does not come again when the lift is good after all."""
    work, facts = lift_work(), [*lifts(1, 80), *lifts(2, 70, 85)]
    desk = desk_after(work, facts, 33_000, 92_000, 94_000)
    assert [cue.template for cue in desk.current if cue.kind is Kind.LEAD] == ["lead_lift"]
    voided = [*facts, Pad("table-a", 2).void(95_000, facts[-1])]
    gone = cues(desk, Observation(state=fold(work, HEAT, [Pad("starter").start(), *voided], 96_000)))
    assert not [cue for cue in gone.current if cue.kind is Kind.LEAD]
    back = cues(gone, Observation(state=fold(work, HEAT, [Pad("starter").start(), *facts], 97_000)))
    assert not [cue for cue in back.fresh if cue.kind is Kind.LEAD]


def test_a_disqualified_lifter_is_not_measured_against() -> None:
    """When a lifter is disqualified, the heaviest lift is that of another."""
    facts = [*lifts(1, 90), *lifts(2, 80), *lifts(3, 70), Pad("judge", 1).conduct(Disqualified, 40_000, reason="belt")]
    assert lines(lift_work(1), facts)[-1] == "E2 wins the heat with 80 kilograms, ten kilograms more than E3."


def test_a_leader_on_hold_is_not_named_by_the_next() -> None:
    """The new lead and the win are told without the one on a medical hold."""
    facts = [*lifts(1, 80), *lifts(2, 70, 85, -90), *lifts(3, 60, -61, -61), stamped(HoldPlaced, 1, 40_000)]
    found = told(lift_work(), facts)
    assert not any(1 in cue.lanes or "E1" in cue.values.values() for at_ms, cue in found if at_ms > 40_000)
    said = [say(cue, WORDING) for _, cue in found]
    assert "E2 takes the lead in the heat with 85 kilograms." in said
    assert ON_THE_BAR not in {cue.kind for _, cue in found}
    assert said[-1] == "E2 wins the heat."
