"""Cues of lifts, ladders and intervals: when they speak, when not, and what takes them back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import HEAT, Pad, competition, workout
from core.test_cues import stamped
from tallywire.core.competition import Competition
from tallywire.core.cues import Cue, CueDesk, Kind, Observation, cue_script, cues, say
from tallywire.core.facts import Disqualified, Fact, HoldPlaced, PenaltyGiven
from tallywire.core.fold import fold
from tallywire.core.workout import Counts, Intervals, Ladder, Lifting, Mark, Station
from tallywire.wire.cue_wording import default_wording

WORDING = default_wording()
END_MS = 301_000
UNDONE_MS = 60_000
"""Stands for a piece that was not completed in its window."""
OVERALL = (Kind.CLINCHED, Kind.OVERALL_LEAD)


def lift_work(attempts: int | None = 3, *, lanes: int = 3) -> Competition:
    """A lift with so many attempts; five minutes."""
    rules = Lifting(unit="kg", bar_milli=20_000, collar_milli=0, plates_milli=(10_000, 500), attempts=attempts)
    station = Station(movement="snatch", amount=attempts or 1)
    work = replace(workout(kind="max_load", rounds=((station,),), cap_ms=300_000), lifting=rules)
    return competition(work, lanes=lanes)


def ladder_work(
    *, bars: int = 3, lanes: int = 4, tie_break: Mark | None = None, cap_ms: int | None = None
) -> Competition:
    """Two lifts a bar, a minute a bar."""
    stations = tuple(Station(movement="squat", amount=2, loads={"women": f"{50 + 10 * n} kg"}) for n in range(bars))
    work = workout(kind="ladder", rounds=(stations,), cap_ms=cap_ms or bars * 60_000, tie_break=tie_break)
    return competition(replace(work, ladder=Ladder(window_ms=60_000)), lanes=lanes)


def pieces_work(counts: Counts = Counts.SUM, *, timed: bool = False, lanes: int = 3, pieces: int = 3) -> Competition:
    """Pieces of a minute with half a minute of rest; timed ones are ten reps."""
    rules = Intervals(pieces=pieces, work_ms=60_000, rest_ms=30_000, counts=counts, timed=timed)
    work = workout(kind="intervals", rounds=((Station(movement="row", amount=10, unit="calories"),),), cap_ms=300_000)
    return competition(replace(work, intervals=rules), lanes=lanes)


def told(work: Competition, facts: Iterable[Fact]) -> list[tuple[int, Cue]]:
    """What is told of the heat itself."""
    script = cue_script(work, HEAT, [Pad("starter").start(), *facts, Pad("ender").end(END_MS)])
    return [(at_ms, cue) for at_ms, cue in script if cue.kind not in OVERALL]


def lines(work: Competition, facts: Iterable[Fact]) -> list[str]:
    """The same in words."""
    return [say(cue, WORDING) for _, cue in told(work, facts)]


def lift(pad: Pad, at_ms: int, kg: float, *, good: bool) -> list[Fact]:
    """An attempt declared twenty seconds before it is judged."""
    declared = pad.declare(at_ms - 20_000, round(kg * 1000))
    return [declared, pad.made(at_ms) if good else pad.failed(at_ms)]


def lifts(lane: int, *attempts: float, first_ms: int = 30_000, apart_ms: int = 60_000) -> list[Fact]:
    """Attempts of one lane, a minute apart; a minus stands for a miss."""
    pad, facts = Pad(f"lane-{lane}", lane), list[Fact]()
    for number, kg in enumerate(attempts):
        facts += lift(pad, first_ms + 1_000 * lane + apart_ms * number, abs(kg), good=kg > 0)
    return facts


def bars(lane: int, *good: int) -> list[Fact]:
    """Good lifts in each window, ten seconds apart."""
    pad = Pad(f"lane-{lane}", lane)
    starts = [
        60_000 * window + 10_000 * each + lane for window, count in enumerate(good) for each in range(1, count + 1)
    ]
    return [pad.made(at_ms) for at_ms in starts]


def reps(lane: int, *pieces: int | tuple[int, int]) -> list[Fact]:
    """So many reps in each piece, two seconds apart or so many ms."""
    pad, facts = Pad(f"lane-{lane}", lane), list[Fact]()
    for number, piece in enumerate(pieces):
        count, step_ms = piece if isinstance(piece, tuple) else (piece, 2_000)
        facts += [pad.reps(90_000 * number + step_ms * n) for n in range(1, count + 1)]
    return facts


def desk_after(work: Competition, facts: Sequence[Fact], *clocks_ms: int) -> CueDesk:
    """The desk after looks at these times."""
    desk = CueDesk()
    for clock_ms in clocks_ms:
        known = [fact for fact in facts if fact.at_ms <= clock_ms]
        desk = cues(desk, Observation(state=fold(work, HEAT, [Pad("starter").start(), *known], clock_ms)))
    return desk


def current(desk: CueDesk) -> list[str]:
    """What stands on the desk, in words."""
    return [say(cue, WORDING) for cue in desk.current if cue.kind not in OVERALL]


# Lifts


def test_opening_lifts_are_silent_but_for_the_lead() -> None:
    """Of three openers the second takes the lead; nobody is said to go up a place."""
    assert lines(lift_work(), [*lifts(1, 80), *lifts(2, 82.5), *lifts(3, 75)]) == [
        "E2 takes the lead in the heat with 82.5 kilograms, 2.5 kilograms more than E1.",
        "E2 wins the heat with 82.5 kilograms, 2.5 kilograms more than E1.",
    ]


def test_a_place_gained_by_a_good_lift_is_told_alone_and_level() -> None:
    """Third goes up to second; then the last draws level with it; who only adds to its own load says nothing new."""
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
    """The lead told of a lift that was voided is gone, and is not told again when the lift is good after all."""
    work, facts = lift_work(), [*lifts(1, 80), *lifts(2, 70, 85)]
    desk = desk_after(work, facts, 33_000, 92_000, 94_000)
    assert [cue.template for cue in desk.current if cue.kind is Kind.LEAD] == ["lead_lift"]
    voided = [*facts, Pad("table-a", 2).void(95_000, facts[-1])]
    gone = cues(desk, Observation(state=fold(work, HEAT, [Pad("starter").start(), *voided], 96_000)))
    assert not [cue for cue in gone.current if cue.kind is Kind.LEAD]
    back = cues(gone, Observation(state=fold(work, HEAT, [Pad("starter").start(), *facts], 97_000)))
    assert not [cue for cue in back.fresh if cue.kind is Kind.LEAD]


def test_a_disqualified_lifter_is_not_measured_against() -> None:
    """Without the one who was disqualified the heaviest lift is another's."""
    facts = [*lifts(1, 90), *lifts(2, 80), *lifts(3, 70), Pad("judge", 1).conduct(Disqualified, 40_000, reason="belt")]
    assert lines(lift_work(1), facts)[-1] == "E2 wins the heat with 80 kilograms, ten kilograms more than E3."


def test_a_leader_on_hold_is_not_named_by_the_next() -> None:
    """The new lead and the win are told without the one on a medical hold."""
    facts = [*lifts(1, 80), *lifts(2, 70, 85, -90), *lifts(3, 60, -61, -61), stamped(HoldPlaced, 1, 40_000)]
    found = told(lift_work(), facts)
    assert not any(1 in cue.lanes or "E1" in cue.values.values() for at_ms, cue in found if at_ms > 40_000)
    said = [say(cue, WORDING) for _, cue in found]
    assert "E2 takes the lead in the heat with 85 kilograms." in said
    assert Kind.ON_THE_BAR not in {cue.kind for _, cue in found}
    assert said[-1] == "E2 wins the heat."


# The ladder


def test_who_is_out_at_a_bar_is_told_in_one_line() -> None:
    """One, two and three who go out at the same bar, with how many are left; who made it is not named."""
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


def test_a_lane_on_hold_is_neither_counted_nor_named_on_a_ladder() -> None:
    """One of two who are late, and the only one left, are on hold: the other is told alone, and who is left is not."""
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
    assert Kind.BAR_OPEN not in {cue.kind for _, cue in late}


def test_the_last_one_in_is_not_said_to_lead_where_a_penalty_has_cost_the_lead() -> None:
    """Three reps off put the last one in behind one who is out: then nothing is said of catching."""
    penalty = Pad("judge", 1).conduct(PenaltyGiven, 70_000, reps=3, ms=0, reason="dropped bar")
    found = lines(ladder_work(lanes=2), [*bars(1, 2, 2), *bars(2, 2, 1), penalty])
    assert not [line for line in found if "last one in" in line]


def test_there_is_no_lead_within_a_window() -> None:
    """Who lifts half a minute earlier than the others leads nothing."""
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


# Intervals


def test_after_each_piece_but_the_last_the_leader_is_told_and_then_the_win() -> None:
    """The sum: 20, 41, then 61 against 19, 39, 58."""
    facts = [*reps(1, 20, 21, 20), *reps(2, 19, 20, 19), *reps(3, 10, 10, 10)]
    assert [(at_ms, say(cue, WORDING)) for at_ms, cue in told(pieces_work(), facts)] == [
        (62_000, "After piece one of three, E1 leads with 20 reps, one rep more than E2; all pieces add up."),
        (152_000, "After piece two of three, E1 leads with 41 reps, two reps more than E2; all pieces add up."),
        (242_000, "E1 wins the heat with 61 reps, three reps more than E2; all pieces add up."),
    ]


@pytest.mark.parametrize(
    ("counts", "expected"),
    [
        (
            Counts.SLOWEST,
            "After piece two of three, E2 has taken the lead from E1: 19 reps, one rep more than anybody; the low",
        ),
        (
            Counts.BEST,
            "After piece two of three, E1 leads with 25 reps, five reps more than E2; the best piece counts.",
        ),
    ],
)
def test_what_counts_decides_who_leads_after_a_piece(counts: Counts, expected: str) -> None:
    """25 and 18 against 19 and 20: the better lowest piece is the second's, the best one the first's."""
    found = lines(pieces_work(counts), [*reps(1, 25, 18), *reps(2, 19, 20), *reps(3, 5, 5)])
    assert [line for line in found if line.startswith(expected)], found


def test_two_in_front_together_are_told_as_level_and_the_most_in_a_piece_is_another_s() -> None:
    """Level after piece two; who had the most in it is behind, and is told for that."""
    found = lines(pieces_work(), [*reps(1, 20, 18), *reps(2, 19, 19), *reps(3, 10, 22)])
    assert "After piece two of three, E1 and E2 are level in front with 38 reps; all pieces add up." in found
    assert "E3 has the most in piece two: 22 reps." in found


def test_a_lead_within_a_piece_is_told_where_pieces_add_up() -> None:
    """Behind by three after piece one, twice as quick in piece two: in front in it, held, and told once."""
    facts = [*reps(1, (20, 2_900), (9, 6_000)), *reps(2, (17, 3_000), (20, 2_900))]
    leads = [say(cue, WORDING) for _, cue in told(pieces_work(lanes=2), facts) if cue.kind is Kind.LEAD]
    assert leads == ["E2 takes the lead in the heat from E1, in piece two."]


def test_timed_pieces_tell_the_first_home_and_the_leader_by_time() -> None:
    """10 s and 30 s against 15 s and 16 s a piece: the lead changes with piece two, and is told with its end."""
    facts = [*reps(1, (10, 1_000), (10, 3_000)), *reps(2, (10, 1_500), (10, 1_600))]
    found = [(at_ms, say(cue, WORDING)) for at_ms, cue in told(pieces_work(timed=True, lanes=2), facts)]
    assert (12_000, "E1 is first home in piece one, in 0:10.0.") in found
    assert (
        62_000,
        "After piece one of three, E1 leads in 0:10.0, five seconds ahead of E2; all pieces add up.",
    ) in found
    assert (
        152_000,
        "After piece two of three, E2 has taken the lead from E1: 0:31.0, nine seconds quicker than anybody; "
        "all pieces add up.",
    ) in found


@pytest.mark.parametrize(
    ("counts", "rival_ms", "gone_ms"),
    [
        (Counts.SUM, 10_000, 15_001),
        (Counts.SUM, 20_000, 10_000),
        (Counts.SLOWEST, 14_000, 15_001),
        (Counts.SLOWEST, 16_000, 10_000),
        (Counts.BEST, 14_000, 10_001),
        (Counts.BEST, 9_000, 60_000),
        (Counts.SUM, UNDONE_MS, 10_000),
    ],
)
def test_the_winner_of_timed_pieces_is_told_when_nobody_can_take_the_place(
    counts: Counts, rival_ms: int, gone_ms: int
) -> None:
    """Home in 15 s and 10 s; the other had `rival_ms` in the first piece and is at work: told when `gone_ms` of the
    second are gone.

    The sum, 25 s: with 10 s it may have 15 more; with 20 s it is beaten as soon as the first is home. The slowest,
    15 s: with 14 s it may have 15; with 16 s it is beaten. The best, 10 s: with 14 s it may have 10; with 9 s it would
    win as soon as it is home, so only the end of the window decides. Who did not complete the first is beaten anyway.
    """
    work = pieces_work(counts, timed=True, lanes=2, pieces=2)
    rival = reps(2, (9, 1_000) if rival_ms == UNDONE_MS else (10, rival_ms // 10))
    facts = [Pad("starter").start(), *reps(1, (10, 1_500), (10, 1_000)), *rival]
    for clock_ms, wins in ((90_000 + gone_ms + 1_499, False), (90_000 + gone_ms + 1_500, True)):
        fresh = cues(CueDesk(), Observation(state=fold(work, HEAT, facts, clock_ms))).fresh
        assert (Kind.FINISH in {cue.kind for cue in fresh}) is wins


def test_penalties_count_in_what_is_said_of_pieces() -> None:
    """Three reps off the first make it second; seven seconds more on a rival leave it fewer to be beaten by."""
    penalty = Pad("judge", 1).conduct(PenaltyGiven, 70_000, reps=3, ms=0, reason="short")
    assert "After piece two of three, E2 leads with 38 reps, one rep more than E1; all pieces add up." in lines(
        pieces_work(lanes=2), [*reps(1, 20, 20), *reps(2, 19, 19), penalty]
    )
    seconds = Pad("judge", 1).conduct(PenaltyGiven, 20_000, reps=0, ms=7_000, reason="lane")
    facts = [*reps(1, (10, 1_000), (10, 1_000)), *reps(2, (10, 1_500), (10, 1_500))]
    timed = pieces_work(timed=True, lanes=2, pieces=2)
    assert "After piece one of two, E2 leads in 0:15.0, two seconds ahead of E1; all pieces add up." in lines(
        timed, [*facts, seconds]
    )
    rival = Pad("judge", 2).conduct(PenaltyGiven, 20_000, reps=0, ms=7_000, reason="lane")
    for first_ms, wins in ((12_500, False), (12_501, True)):
        known = [Pad("starter").start(), *reps(1, (10, 1_500), (10, 1_100)), *reps(2, (10, 800)), rival]
        fresh = cues(CueDesk(), Observation(state=fold(timed, HEAT, known, 90_000 + first_ms))).fresh
        assert (Kind.FINISH in {cue.kind for cue in fresh}) is wins


def test_nobody_is_said_to_catch_another_within_a_piece() -> None:
    """What would be a chase in one count of work is none where each piece starts again."""
    one, two = Pad("lane-1", 1), Pad("lane-2", 2)
    first_ms = [1_000 * n for n in range(1, 11)] + [10_000 + 3_700 * n for n in range(1, 8)]
    second_ms = [3_000 * n for n in range(1, 11)] + [30_000 + 1_200 * n for n in range(1, 7)]
    facts = [*map(one.reps, first_ms), *map(two.reps, second_ms)]
    stations = ((Station(movement="row", amount=10),),)
    one_count = competition(workout(kind="amrap", rounds=stations, cap_ms=60_000), lanes=2)
    assert desk_after(one_count, facts, 37_500).chases.pairs
    assert not desk_after(pieces_work(lanes=2), facts, 37_500).chases.pairs


def test_the_only_one_to_complete_every_piece_leads_by_that() -> None:
    """The second has a piece short: a gap in time would say nothing."""
    found = lines(pieces_work(timed=True, lanes=2), [*reps(1, 10), *reps(2, 7)])
    assert "After piece one of three, E1 leads in 0:20.0, the only one to complete every piece." in found


def test_pieces_that_nobody_completes_are_compared_by_reps() -> None:
    """Eight against seven of ten."""
    found = lines(pieces_work(timed=True, lanes=2), [*reps(1, 8), *reps(2, 7)])
    assert found[0] == "After piece one of three, E1 leads with eight reps, one rep more than E2; all pieces add up."


def test_a_corrected_piece_takes_its_line_back() -> None:
    """Three off the leader: it leads no more, and the line about the piece says who does."""
    work, facts = pieces_work(lanes=2), [*reps(1, 20), *reps(2, 19)]
    desk = desk_after(work, facts, 59_000, 62_000)
    assert current(desk)[0].startswith("After piece one of three, E1 leads with 20 reps")
    wrong = [Pad("starter").start(), *facts, Pad("table-a", 1).correct(65_000, 17)]
    after = cues(desk, Observation(state=fold(work, HEAT, wrong, 66_000)))
    assert current(after)[0].startswith("After piece one of three, E2 leads with 19 reps, two reps more than E1")


def test_a_second_on_hold_is_not_named_after_a_piece() -> None:
    """The leader is told alone; a leader on hold is not told at all, nor anybody as the leader."""
    facts = [*reps(1, 20), *reps(2, 19), *reps(3, 5)]
    second = lines(pieces_work(), [*facts, stamped(HoldPlaced, 2, 30_000)])
    assert second[0] == "After piece one of three, E1 leads."
    first = lines(pieces_work(), [*facts, stamped(HoldPlaced, 1, 30_000)])
    assert not [line for line in first if "lead" in line]
    gone = [*reps(1, 20, 10), *reps(2, 19, 19), *reps(3, 5, 5), stamped(HoldPlaced, 1, 140_000)]
    assert "After piece two of three, E2 leads." in lines(pieces_work(Counts.SLOWEST), gone)


# All of them


def test_a_withdrawal_says_no_round_where_there_are_none() -> None:
    """Lifts, bars and pieces have no rounds to stop in."""
    for work in (lift_work(), ladder_work(), pieces_work()):
        assert "E1 has stopped and will not go on." in lines(work, [Pad("lane-1", 1).withdraw(5_000)])


def test_a_heat_in_which_nobody_moves_is_silent() -> None:
    """No lift, no piece: nobody leads and nobody wins. On a ladder all are out at the first bar, and none has won."""
    for work in (lift_work(), lift_work(None), ladder_work(), pieces_work(), pieces_work(Counts.BEST)):
        assert lines(work, [Pad("lane-1", 1).no_rep(250_000)]) == []


def test_fixed_time_is_shared_or_parted_by_the_tie_break() -> None:
    """Equal reps: the win is shared; with a tie-break mark the earlier one at it has won."""
    stations = ((Station(movement="row", amount=10),),)
    facts = [*reps(1, (12, 1_000)), *reps(2, 12)]
    shared = competition(workout(kind="amrap", rounds=stations, cap_ms=60_000), lanes=2)
    assert lines(shared, facts)[-1] == "E1 and E2 share the win in the heat with twelve reps."
    mark = Mark(round=1, station=1)
    parted = competition(workout(kind="amrap", rounds=stations, cap_ms=60_000, tie_break=mark), lanes=2)
    assert lines(parted, facts)[-1] == "E1 wins the heat from E2 on the tie-break, at the mark at 0:10."


@st.composite
def heats(draw: st.DrawFn) -> tuple[Competition, list[Fact]]:
    """Random lifts, ladders and intervals of three lanes, with a withdrawal or a void now and then."""
    work = draw(st.sampled_from(WORKS))
    facts: list[Fact] = []
    for lane in (1, 2, 3):
        pad, at_ms = Pad(f"lane-{lane}", lane), 0
        for _ in range(draw(st.integers(0, 12))):
            at_ms += draw(st.integers(1, 40_000))
            facts += _work(pad, work, at_ms, draw(st.integers(0, 9)))
    if facts and draw(st.integers(0, 2)) == 0:
        facts.append(Pad("table-a").void(draw(st.integers(0, 250_000)), draw(st.sampled_from(facts))))
    return work, facts


def _work(pad: Pad, work: Competition, at_ms: int, dice: int) -> list[Fact]:
    """What a lane does at a time: a lift two times of three good, or reps; rarely it withdraws."""
    own = work.events["event"].workout
    if dice == 9 and at_ms > 150_000:
        return [pad.withdraw(at_ms)]
    if own.intervals is not None:
        return [pad.reps(at_ms, 1 + dice)]
    declared = [] if own.lifting is None else [pad.declare(max(0, at_ms - 5_000), 50_000 + 500 * dice)]
    return [*declared, pad.failed(at_ms) if dice % 3 == 0 else pad.made(at_ms)]


WORKS = (
    lift_work(),
    lift_work(None),
    ladder_work(lanes=3),
    *(pieces_work(counts, timed=timed) for counts in Counts for timed in (True, False)),
)


@given(heats(), st.integers(0, 250))
def test_laws_of_the_desk_hold_in_every_format(made: tuple[Competition, list[Fact]], hold_s: int) -> None:
    """The same script twice, whatever the order; no key twice; nothing old; nothing of a held lane; all can be said."""
    work, facts = made
    facts = [Pad("starter").start(), *facts, stamped(HoldPlaced, 2, hold_s * 1000)]
    said = cue_script(work, HEAT, facts, step_ms=5_000)
    assert said == cue_script(work, HEAT, list(reversed(facts)), step_ms=5_000)
    lasting = [cue.key for _, cue in said if cue.since_ms == 0]
    assert len(lasting) == len(set(lasting))
    assert all(cue.at_ms <= at_ms < cue.until_ms for at_ms, cue in said)
    assert not any(2 in cue.lanes or "E2" in cue.values.values() for at_ms, cue in said if at_ms >= hold_s * 1000)
    assert all("{" not in say(cue, WORDING) for _, cue in said)
    numbers = [value for _, cue in said for value in cue.values.values() if isinstance(value, int)]
    assert all(value >= 0 for value in numbers)
