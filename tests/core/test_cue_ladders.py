"""Cues of ladders, against heats made up by hand."""

from __future__ import annotations

from core.cue_heats import (
    WORDING,
    bars,
    current,
    desk_after,
    ladder_work,
    lines,
    told,
)
from core.folding import fold
from core.samples import HEAT, Pad
from core.test_cues import stamped
from tallywire.core.cues import Kind, Observation, cues, say
from tallywire.core.facts import Fact, HoldPlaced, PenaltyGiven
from tallywire.core.model.workout import Mark
from tallywire.formats.ladder.cues import BAR_OPEN


def test_who_is_out_at_a_bar_is_told_in_one_line() -> None:
    """One, two or three lanes that go out at the same bar are told, with how many are left.

    The others are not named.
    """
    one = lines(ladder_work(), [*bars(1, 2, 2, 2), *bars(2, 2, 2, 2), *bars(3, 2, 2, 2), *bars(4, 1)])
    assert "E4 is out at bar one (50 kg), with one lift of two; three lanes still in." in one
    two = lines(ladder_work(), [*bars(1, 2, 2, 2), *bars(2, 2, 2, 2), *bars(3, 2, 1), *bars(4, 2, 1)])
    assert "E3 and E4 are out at bar two (60 kg); two lanes still in." in two
    three = lines(
        ladder_work(lanes=5), [*bars(1, 2, 2, 2), *bars(2, 2, 2, 2), *(x for n in (3, 4, 5) for x in bars(n, 2))]
    )
    assert "Three are out at bar two (60 kg), E3 among them; two lanes still in." in three


def test_the_last_one_in_is_told_and_then_the_win_in_bars() -> None:
    """Down to one after the second window; at the end whole bars and lifts on the next."""
    facts = [*bars(1, 2, 2, 1), *bars(2, 2, 1), *bars(3, 1)]
    found = [(at_ms, say(cue, WORDING)) for at_ms, cue in told(ladder_work(lanes=3), facts)]
    assert (122_000, "E1 is the last one in and cannot be caught: bar three (70 kg) is next.") in found
    assert found[-1] == (
        182_000,
        "E1 wins the heat with two bars and one lift on the next, two lifts more than E2.",
    )


def test_two_on_a_ladder_are_told_and_one_alone_is_not() -> None:
    """Of two the one that goes out and the one left are told; one alone in its division has nobody beside it."""
    two = lines(ladder_work(lanes=2), [*bars(1, 2, 1), *bars(2, 1)])
    assert [line for line in two if "out at bar one" in line or "last one in" in line]
    assert not [line for line in lines(ladder_work(lanes=1), bars(1, 2, 1)) if "out at" in line or "wins" in line]


def test_a_lane_on_hold_is_neither_counted_nor_named_on_a_ladder() -> None:
    """One of two late lanes and the only one left are on hold: the other late lane is told, and nobody as the last."""
    late = [*bars(1, 2), *bars(2, 2), *bars(3, 1), *bars(4, 1)]
    open_bar = desk_after(ladder_work(), [*late, stamped(HoldPlaced, 3, 30_000)], 46_000)
    assert current(open_bar) == ["E4 has one lift to go at bar one (50 kg), with less than 15 seconds left."]
    out = lines(ladder_work(), [*late, stamped(HoldPlaced, 3, 30_000)])
    assert "E4 is out at bar one (50 kg), with one lift of two; two lanes still in." in out
    alone = lines(ladder_work(lanes=2), [*bars(1, 2, 1), *bars(2, 1), stamped(HoldPlaced, 1, 30_000)])
    assert not [line for line in alone if "out at" in line or "last one" in line]


def test_the_end_of_the_heat_closes_no_window() -> None:
    """Two and a half minutes for three bars: at the end nobody is out at bar three, and the win is told at once."""
    facts = [*bars(1, 2, 2, 1), *bars(2, 2, 2), *bars(3, 2, 2)]
    found = told(ladder_work(lanes=3, cap_ms=150_000), facts)
    assert [(at_ms, say(cue, WORDING)) for at_ms, cue in found] == [
        (152_000, "E1 wins the heat with two bars and one lift on the next, one lift more than E2.")
    ]
    late = told(ladder_work(lanes=2, cap_ms=170_000), [*bars(1, 2, 2, 2), *bars(2, 2, 2, 1)])
    assert BAR_OPEN not in {cue.kind for _, cue in late}


def test_the_last_one_in_is_not_said_to_lead_where_a_penalty_has_cost_the_lead() -> None:
    """Three penalty reps put the last lane still in behind one that is out: then nothing is said about catching."""
    penalty = Pad("judge", 1).conduct(PenaltyGiven, 70_000, reps=3, ms=0, reason="dropped bar")
    found = lines(ladder_work(lanes=2), [*bars(1, 2, 2), *bars(2, 2, 1), penalty])
    assert not [line for line in found if "last one in" in line]


def test_there_is_no_lead_within_a_window() -> None:
    """A lane that lifts half a minute earlier than the others leads nothing."""
    slow = [Pad("lane-2", 2).made(60_000 * window + at_ms) for window in range(3) for at_ms in (45_000, 50_000)]
    assert Kind.LEAD not in {cue.kind for _, cue in told(ladder_work(lanes=2), [*bars(1, 2, 2, 2), *slow])}


def test_an_open_bar_is_told_when_few_have_it_open_and_goes_with_the_lift() -> None:
    """One of four with a lift to go in the last fifteen seconds; three of four are no story."""
    work = ladder_work()
    facts: list[Fact] = [*bars(1, 2), *bars(2, 2), *bars(3, 2), *bars(4, 1)]
    desk = desk_after(work, facts, 44_000)
    assert current(desk) == []
    desk = desk_after(work, facts, 44_000, 46_000)
    assert current(desk) == ["E4 has one lift to go at bar one (50 kg), with less than 15 seconds left."]
    made = [*facts, Pad("lane-4b", 4).made(50_000)]
    assert current(desk_after(work, made, 44_000, 46_000, 50_500)) == []
    many = [*bars(1, 2), *bars(2, 1), *bars(3, 1), *bars(4, 1)]
    assert current(desk_after(work, many, 44_000, 46_000)) == []


def test_a_lift_that_arrives_late_takes_the_exit_back() -> None:
    """The clock puts a lane out; a lift made in time that comes in later brings it back, and the line goes."""
    work = ladder_work(lanes=3)
    facts: list[Fact] = [*bars(1, 2), *bars(2, 2), *bars(3, 1)]
    desk = desk_after(work, facts, 30_000, 62_000)
    assert current(desk) == ["E3 is out at bar one (50 kg), with one lift of two; two lanes still in."]
    late = [Pad("starter").start(), *facts, Pad("lane-3b", 3).made(59_500)]
    assert current(cues(desk, Observation(state=fold(work, HEAT, late, 65_000)))) == []


def test_a_complete_ladder_is_told_while_others_are_in() -> None:
    """All bars made before the last window closes; the win when it has, parted by the tie-break where level."""
    facts = [*bars(1, 2, 2, 2), *bars(2, 2, 2, 2)]
    found = lines(ladder_work(lanes=3), [*facts, *bars(3, 2, 2, 1)])
    assert "E1 has made all three bars, at 2:20." in found
    assert found[-1] == "E1 and E2 share the win in the heat with three bars."
    parted = lines(ladder_work(lanes=3, tie_break=Mark(round=1, station=3)), [*facts, *bars(3, 2, 2, 1)])
    assert parted[-1] == "E1 wins the heat from E2 on the tie-break, at the mark at 2:20."
