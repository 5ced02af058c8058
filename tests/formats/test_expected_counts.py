"""What every format counts when taps are corrected, called no-reps, voided or late: one table, worked out by hand.

Two units at 10, 20 and 30 s make six of ten; the time is up at 60 s. Then one thing happens:

| case | what | six becomes |
| --- | --- | --- |
| up | the table corrects to eight at 40 s | eight |
| down | the table corrects to three at 40 s | three |
| late | the table corrects to seven at 61 s, after the end | seven: a correction by the table always counts |
| no-rep | a no-rep at 40 s | six: it never lowers the count |
| void | the last tap is voided | four |
| late tap | a tap at 61 s | six: it came after the end |
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from core.folding import fold
from core.samples import HEAT, Pad, competition, workout
from core.test_formats import lifts
from tallywire.core.facts import Fact
from tallywire.core.fold.heat import LaneState
from tallywire.core.model.workout import Mark, Station, Team, TeamForm, Workout
from tallywire.formats.for_time_with_penalty.rules import CapPenalty
from tallywire.formats.intervals.rules import Counts, IntervalRules
from tallywire.formats.ladder.rules import LadderRules

CASES: dict[str, tuple[Callable[[Pad, Fact], Fact], int]] = {
    "up": (lambda pad, _last: pad.correct(40_000, 8), 8),
    "down": (lambda pad, _last: pad.correct(40_000, 3), 3),
    "late": (lambda pad, _last: pad.correct(61_000, 7), 7),
    "no-rep": (lambda pad, _last: pad.no_rep(40_000), 6),
    "void": (lambda pad, last: pad.void(40_000, last), 4),
    "late tap": (lambda pad, _last: pad.reps(61_000, 1), 6),
}
TEN = ((Station(movement="lift", amount=10),),)


def intervals(*, timed: bool, pieces: int = 2) -> Workout:
    """Two pieces of a minute with half a minute of rest."""
    rules = IntervalRules(pieces=pieces, work_ms=60_000, rest_ms=30_000, counts=Counts.SUM, timed=timed)
    return replace(workout(kind="intervals", rounds=TEN, cap_ms=150_000), rules=rules)


WORK: dict[str, Workout] = {
    "for_time": workout(rounds=TEN, cap_ms=60_000),
    "for_time_with_penalty": replace(
        workout(kind="for_time_with_penalty", rounds=TEN, cap_ms=60_000), rules=CapPenalty(each_ms=2_000)
    ),
    "amrap": workout(kind="amrap", rounds=TEN, cap_ms=60_000),
    "ladder": replace(workout(kind="ladder", rounds=TEN, cap_ms=60_000), rules=LadderRules(window_ms=60_000)),
    "intervals of reps": intervals(timed=False),
    "intervals for time": intervals(timed=True),
}


def counted(work: Workout, *more: Fact, pad: Pad | None = None, clock_ms: int = 200_000) -> LaneState:
    """Six of ten by 30 s, and what comes after it."""
    pad = pad or Pad("a", 1)
    facts = [pad.reps(at_ms, 2) for at_ms in (10_000, 20_000, 30_000)]
    return fold(competition(work, lanes=1), HEAT, [Pad("starter").start(), *facts, *more], clock_ms).lanes[1]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("name", WORK)
def test_six_of_ten_becomes_what_the_table_says(name: str, case: str) -> None:
    """The count is that of the table above in every format that counts."""
    change, expected = CASES[case]
    pad = Pad("a", 1)
    taps = [pad.reps(at_ms, 2) for at_ms in (10_000, 20_000, 30_000)]
    facts = [Pad("starter").start(), *taps, change(pad, taps[-1])]
    state = fold(competition(WORK[name], lanes=1), HEAT, facts, 200_000).lanes[1]
    assert state.scored_reps == expected
    if name == "for_time_with_penalty":
        assert state.finish_ms == 60_000 + 2_000 * (10 - expected)


@pytest.mark.parametrize("case", CASES)
def test_a_pair_in_synchro_counts_the_lower_of_its_two(case: str) -> None:
    """Both tap two at the same times; what happens to the count of one or both is as for one alone."""
    change, expected = CASES[case]
    pad = Pad("a", 1)
    work = replace(WORK["for_time"], team=Team(form=TeamForm.SYNCHRO, members=2))
    taps = [pad.reps(at_ms, 2, member) for at_ms in (10_000, 20_000, 30_000) for member in (1, 2)]
    facts: list[Fact] = [Pad("starter").start(), *taps]
    facts.append(pad.reps(61_000, 1, 1) if case == "late tap" else change(pad, taps[-1]))
    assert fold(competition(work, lanes=1), HEAT, facts, 200_000).lanes[1].scored_reps == expected


def test_a_partner_that_taps_ahead_leaves_the_tie_break_time() -> None:
    """Both have ten of the first station at 30 s; one goes on at 50 s alone, and the mark is still passed at 30 s."""
    pad = Pad("a", 1)
    rounds = ((Station(movement="lift", amount=10), Station(movement="row", amount=10)),)
    work = replace(
        workout(rounds=rounds, cap_ms=60_000, tie_break=Mark(round=1, station=1)),
        team=Team(form=TeamForm.SYNCHRO, members=2),
    )
    facts = [Pad("starter").start(), pad.reps(20_000, 10, 1), pad.reps(30_000, 10, 2), pad.reps(50_000, 3, 1)]
    state = fold(competition(work, lanes=1), HEAT, facts, 200_000).lanes[1]
    assert state.scored_reps == 10
    assert state.outcome.key[-1] == 30_000
    assert (state.tally.trail, state.tally.reached_ms) == ([(30_000, 10)], 30_000)


def test_a_correction_down_to_a_count_that_was_there_keeps_its_time() -> None:
    """Four were reached at 20 s; corrected down to four at 40 s they are still of 20 s. Three were never counted alone:
    they are of the moment of the correction."""
    assert counted(WORK["amrap"], Pad("t", 1).correct(40_000, 4)).tally.reached_ms == 20_000


def test_a_correction_after_the_last_piece_counts_for_it() -> None:
    """Six in the first piece; after the second, which ends at 150 s, the table corrects it to five: eleven."""
    assert counted(WORK["intervals of reps"], Pad("t", 1).correct(160_000, 5)).scored_reps == 11


@pytest.mark.parametrize("timed", [False, True])
def test_one_piece_alone_counts_as_every_piece_does(*, timed: bool) -> None:
    """Nothing before the first rep, then six of ten."""
    work = intervals(timed=timed, pieces=1)
    ready = fold(competition(work, lanes=1), HEAT, [Pad("starter").start()], 5_000).lanes[1]
    assert (ready.scored_reps, counted(work).scored_reps) == (0, 6)


def test_before_the_first_rep_it_is_the_turn_of_who_took_over_in_the_first_piece() -> None:
    """A pair in relay changes at 5 s, before anybody has done a rep: the second is at work."""
    work = replace(intervals(timed=False), team=Team(form=TeamForm.RELAY, members=2))
    facts = [Pad("starter").start(), Pad("a", 1).exchange(5_000, 2)]
    assert fold(competition(work, lanes=1), HEAT, facts, 10_000).lanes[1].tally.member == 2


def test_nobody_leads_before_any_rep() -> None:
    """A no-rep is no work: without a rep there is no leader."""
    facts = [Pad("starter").start(), Pad("a", 1).no_rep(5_000)]
    assert fold(competition(WORK["amrap"], lanes=2), HEAT, facts, 10_000).leader is None


@pytest.mark.parametrize(
    ("case", "result"), [("made", "105 kg"), ("failed", "105 kg"), ("void", "100 kg"), ("judged late", "110 kg")]
)
def test_the_heaviest_good_lift_counts(case: str, result: str) -> None:
    """100 and 105 kg good. A failed 110 changes nothing, a voided 105 leaves 100, and a lift declared before the end
    and judged after it counts."""
    pad = Pad("a", 1)
    lifted = [pad.declare(1_000, 100_000), pad.made(10_000), pad.declare(11_000, 105_000), pad.made(20_000)]
    more: dict[str, list[Fact]] = {
        "made": [],
        "failed": [pad.declare(30_000, 110_000), pad.failed(40_000)],
        "void": [pad.void(40_000, lifted[-1])],
        "judged late": [pad.declare(59_000, 110_000), pad.made(61_000)],
    }
    work = replace(lifts(attempts=None), time_cap_ms=60_000)
    state = fold(competition(work, lanes=1), HEAT, [Pad("s").start(), *lifted, *more[case]], 200_000)
    assert state.lanes[1].outcome.result == result
