"""Cues of intervals, against heats made up by hand."""

from __future__ import annotations

import pytest

from core.cue_heats import (
    UNDONE_MS,
    WORDING,
    current,
    desk_after,
    lines,
    pieces_work,
    reps,
    told,
)
from core.folding import fold
from core.samples import HEAT, Pad, competition, workout
from core.test_cues import stamped
from tallywire.core.cues import CueDesk, Kind, Observation, cues, say
from tallywire.core.facts import HoldPlaced, PenaltyGiven
from tallywire.core.model.workout import Station
from tallywire.formats.intervals.rules import Counts


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
    """Level after piece two; the one that had the most in it is behind, and is told for that."""
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


@pytest.mark.parametrize(("clock_ms", "is_told"), [(11_499, False), (11_500, True)])
def test_the_first_home_in_a_piece_is_told_once_it_has_settled(clock_ms: int, *, is_told: bool) -> None:
    """Home at 10 s; a finish settles in a second and a half (docs/cues.md), to the millisecond."""
    facts = [*reps(1, (10, 1_000)), *reps(2, (5, 2_000))]
    said = current(desk_after(pieces_work(timed=True, lanes=2), facts, clock_ms))
    assert ("E1 is first home in piece one, in 0:10.0." in said) == is_told


@pytest.mark.parametrize(
    ("counts", "rival_ms", "gone_ms"),
    [
        (Counts.SUM, 10_000, 15_001),
        (Counts.SUM, 20_000, 10_000),
        (Counts.SLOWEST, 14_000, 15_001),
        (Counts.SLOWEST, 15_000, 15_001),
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
    15 s: with 14 s, or 15, it may have 15; with 16 s it is beaten. The best, 10 s: with 14 s it may have 10; with 9 s
    it would win as soon as it is home, so only the end of the window decides. A lane that did not complete the first is
    beaten anyway.
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
    """A chase in one count of work is not a chase where each piece starts from zero."""
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
    """Three reps off the leader: it leads no longer, and the line about the piece names the new leader."""
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
