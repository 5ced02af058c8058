"""The recorded heat of Breakwater: it has what a floor sees in a weekend, and it looks like the real thing.

What a heat must contain is counted by hand from its raw lines (`raw_heat`), not by the fold.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path
from statistics import median

import pytest

from core.folding import fold
from scenarios.raw_heat import (
    ALL_SCORED,
    ALL_UNITS,
    CAP_MS,
    TOUCHES,
    by_lane,
    course,
    courses,
    leaders,
    lines_of,
    of_kind,
    round_times,
    scored,
    taps_in_station,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.model.workout import Mark
from tallywire.core.reports.results import Choice, ResultRow, result_tables
from tallywire.shell.files import load_competition, load_recording

FOLDER = Path(__file__).parents[2] / "scenarios"
WOMEN_2 = FOLDER / "saltmarsh-women-2.ndjson"
COMPETITION = load_competition(FOLDER / "saltmarsh.toml")
LINES = lines_of(WOMEN_2)
WITHDRAWN = 10


def folded() -> HeatState:
    """Fold the recording the way `tallywire results` does."""
    return fold(COMPETITION, "women-2", load_recording(WOMEN_2))


def result() -> list[ResultRow]:
    """The recording's result."""
    now = CompetitionBook(COMPETITION, load_recording(WOMEN_2)).at_last_facts()
    tables = result_tables(now, Choice(heat="women-2"))
    return [row for table in tables for row in table.rows]


def test_the_lead_changes_hands() -> None:
    """Three athletes lead in turn, with five changes or more, and the winner takes the lead late."""
    seen = leaders(LINES)
    assert len(seen) >= 6
    assert set(seen) == {5, 6, 7}
    assert seen[-1] == 6
    assert seen.count(6) == 1


def test_a_lane_stalls_in_a_block() -> None:
    """One lane goes two minutes and more without a tap until a block is complete, twice as long as any other."""
    gaps = {
        lane: max((after[0] - before[0], after[1] - before[1]) for before, after in pairwise(walked))
        for lane, walked in courses(LINES).items()
    }
    longest = sorted(gaps, key=lambda lane: -gaps[lane][0])
    assert gaps[longest[0]][1] == TOUCHES
    assert gaps[longest[0]][0] > 120_000
    assert gaps[longest[0]][0] > 2 * gaps[longest[1]][0]


def test_blocks_are_tapped_by_some_and_only_completed_by_others() -> None:
    """Some judges tap every ten touches on the way, others the complete block alone; each block is completed once."""
    tracked = {line["lane"] for line in LINES if line.get("n") == 10}
    assert 0 < len(tracked) < 10
    completed = Counter(line["lane"] for line in of_kind(LINES, "block_completed"))
    rounds_begun = {lane: min(5, 1 + walked[-1][1] // (ALL_UNITS // 5)) for lane, walked in courses(LINES).items()}
    assert completed == rounds_begun


def test_a_no_rep_costs_time_and_never_a_count() -> None:
    """Every lane hears no-reps with a reason; the repetition that follows takes about two repetitions' time."""
    for lane, lines in by_lane(LINES).items():
        calls = of_kind(lines, "no_rep_called")
        assert calls
        assert all(call["reason"] for call in calls)
        counted = [at_ms for at_ms, _ in course(LINES, lane)]
        usual = median(after - before for before, after in pairwise(counted))
        for call in calls:
            before = max((at_ms for at_ms in counted if at_ms < call["at_ms"]), default=0)
            after = min(at_ms for at_ms in counted if at_ms > call["at_ms"])
            assert after - before > 1.5 * usual


def test_a_double_touch_is_voided_by_the_table() -> None:
    """One pair of taps is 100 ms apart; the second is voided with a reason, and nothing else is."""
    taps = of_kind(LINES, "rep_counted")
    pairs = [
        (first, second)
        for lane in by_lane(taps).values()
        for first, second in pairwise(lane)
        if second["at_ms"] - first["at_ms"] < 150
    ]
    voids = of_kind(LINES, "fact_voided")
    [(first, second)], [void] = pairs, voids
    assert second["at_ms"] - first["at_ms"] == 100
    assert (void["voids"], void["lane"]) == (second["id"], second["lane"])
    assert void["sender"].startswith("table-")
    assert void["at_ms"] > second["at_ms"]
    assert void["reason"]


def test_a_count_is_corrected_by_the_table() -> None:
    """One lane is a tap short; the table sets the number one higher than the taps add up to, and says why."""
    [correction] = of_kind(LINES, "count_corrected")
    assert correction["sender"].startswith("table-")
    assert correction["reason"]
    before = [done for at_ms, done in course(LINES, correction["lane"]) if at_ms < correction["at_ms"]]
    assert correction["scored_reps"] == scored(before[-1]) + 1


def test_two_finish_in_the_same_millisecond_and_two_within_a_second() -> None:
    """Of seven finishes exactly two are equal, and one other pair is less than a second apart."""
    finishes = sorted(line["at_ms"] for line in of_kind(LINES, "finished"))
    assert len(finishes) == 7
    gaps = [after - before for before, after in pairwise(finishes)]
    assert gaps.count(0) == 1
    assert sum(0 < gap < 1000 for gap in gaps) == 1


def test_the_field_comes_home_as_a_strong_field_does() -> None:
    """The winner needs 11:30 to 12:30, the last to finish less than the cap, with all the work done by each of them."""
    finishes = {line["lane"]: line["at_ms"] for line in of_kind(LINES, "finished")}
    assert 690_000 <= min(finishes.values()) <= 750_000
    assert 810_000 <= max(finishes.values()) < CAP_MS
    for lane, at_ms in finishes.items():
        last_ms, done = course(LINES, lane)[-1]
        assert done == ALL_UNITS
        assert 0 <= at_ms - last_ms < 500


def test_one_withdraws_and_two_are_capped() -> None:
    """One lane stops in round four, two are still at work at the cap, and one of those is tapped once too late."""
    home = {line["lane"] for line in of_kind(LINES, "finished")}
    [withdrawn] = of_kind(LINES, "withdrawn")
    assert withdrawn["lane"] == WITHDRAWN
    assert max(line["at_ms"] for line in by_lane(LINES)[WITHDRAWN]) == withdrawn["at_ms"]
    assert course(LINES, WITHDRAWN)[-1][1] // (ALL_UNITS // 5) == 3
    capped = set(range(1, 11)) - home - {WITHDRAWN}
    to_go = {lane: ALL_SCORED - scored(course(LINES, lane)[-1][1]) for lane in capped}
    assert to_go == {2: 16, 9: 5}
    late = [line for line in of_kind(LINES, "rep_counted") if line["at_ms"] > CAP_MS]
    assert [line["lane"] for line in late] == [2]


@pytest.mark.parametrize("station", [3, 4])
def test_repetitions_go_at_a_rate_people_keep(station: int) -> None:
    """Sandbags and step-overs go at 20 to 35 a minute in every lane and round (common practice, no source)."""
    for lane in range(1, 11):
        for times in taps_in_station(LINES, lane, station):
            rate = 60_000 / median(after - before for before, after in pairwise(times))
            assert 20 <= rate <= 35


def test_transitions_take_three_to_ten_seconds() -> None:
    """From the last sandbag to the first step-over: a transition of 3 to 10 s and one or two attempts of 1.7 to 3 s."""
    missed_a_tap = {line["lane"] for line in of_kind(LINES, "count_corrected")}
    for lane in set(range(1, 11)) - missed_a_tap:
        for bags, steps in zip(taps_in_station(LINES, lane, 3), taps_in_station(LINES, lane, 4), strict=False):
            assert 3_000 + 1_700 <= steps[0] - bags[-1] <= 10_000 + 2 * 3_000


def test_pace_fades_and_breaks_in_round_four() -> None:
    """Last rounds are 5 to 25 % slower than first ones; round four is the slowest for most (common practice)."""
    rounds = {lane: round_times(walked) for lane, walked in courses(LINES).items()}
    home = {lane: times for lane, times in rounds.items() if len(times) == 5}
    assert all(1.05 <= times[4] / times[0] <= 1.25 for times in home.values())
    assert sum(times[3] == max(times) for times in home.values()) > len(home) / 2


def test_the_result_of_the_heat() -> None:
    """The fold gives the result worked out by hand: a shared third place, fourth skipped, capped by reps to go."""
    rows = [(row.place, row.lane, row.result, row.scored_reps) for row in result()]
    assert rows == [
        (1, 6, "11:52.684", 110),
        (2, 7, "11:53.371", 110),
        (3, 4, "12:21.905", 110),
        (3, 8, "12:21.905", 110),
        (5, 5, "12:27.212", 110),
        (6, 1, "13:10.440", 110),
        (7, 3, "13:56.180", 110),
        (8, 9, "CAP+5", 105),
        (9, 2, "CAP+16", 94),
        (10, 10, "WD", 72),
    ]
    assert [scored(walked[-1][1]) for walked in courses(LINES).values()] == [
        110,
        94,
        110,
        110,
        110,
        110,
        110,
        110,
        105,
        72,
    ]


def test_the_fold_passes_each_mark_when_the_hand_count_does() -> None:
    """Every round of every lane ends at the same millisecond by the fold and by hand."""
    state = folded()
    for lane, walked in courses(LINES).items():
        splits = state.lanes[lane].splits
        ends = [splits[Mark(round=number, station=4)] for number in range(1, len(round_times(walked)) + 1)]
        assert [after - before for before, after in pairwise([0, *ends])] == round_times(walked)


def test_the_lead_overall_turns_over() -> None:
    """The leader is five points up, finishes four places behind the chaser at ten points a place, and is 35 down."""
    rows = {row.entry: row for row in result()}
    leader, chaser = COMPETITION.entries["w1"], COMPETITION.entries["w2"]
    assert leader.points_before - chaser.points_before == 5
    assert rows["w1"].place - rows["w2"].place == 4
    after = {each.id: each.points_before + rows[each.id].points for each in (leader, chaser)}
    assert after["w2"] - after["w1"] == 35
