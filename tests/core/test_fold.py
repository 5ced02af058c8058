"""The fold on heats worked out by hand."""

from __future__ import annotations

import pytest

from core.folding import fold
from core.samples import CAP_MS, HEAT, Pad, competition, full_round, rounds_of_22, workout
from tallywire.core import facts as fact_module
from tallywire.core.facts import (
    ASIDE,
    BOOTH_FACTS,
    CONDUCT_FACTS,
    FACT_TYPES,
    HEAT_FACTS,
    SHOW_FACTS,
    WORK_FACTS,
    Fact,
    FactVoided,
    HeatStarted,
    LaneFact,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.conduct import HANDLERS as CONDUCT
from tallywire.core.fold.heat import HeatState
from tallywire.core.formats.base import Status, Tally
from tallywire.core.formats.counting import _HANDLERS, judged_trail
from tallywire.core.model.workout import Mark, Plan, Station
from tallywire.formats.for_time.counting import ForTimeCounting

TABLE = "table-a"


def start() -> HeatStarted:
    """The heat was started."""
    return Pad("starter").start()


def heat(
    *facts: Fact, clock_ms: int = 1000, lanes: int = 3, rounds: int = 5, tie_break: Mark | None = None
) -> HeatState:
    """Fold facts into a heat of five rounds of 22 (common practice, no source) with a cap of 15 minutes."""
    work = workout(rounds=rounds_of_22(rounds), tie_break=tie_break)
    return fold(competition(work, lanes=lanes), HEAT, [start(), *facts], clock_ms)


def rounds(pad: Pad, count: int, *, step_ms: int = 1000) -> list[Fact]:
    """Whole rounds of 22 steps each, one after the other, from 0 on."""
    return [fact for n in range(count) for fact in full_round(pad, n * 22 * step_ms, step_ms=step_ms)]


def test_every_fact_type_has_a_handler() -> None:
    """Every fact type of the module is listed, and every lane fact has its handler: as work or as conduct."""
    defined = {
        each
        for each in vars(fact_module).values()
        if isinstance(each, type) and issubclass(each, Fact) and each not in (Fact, LaneFact, *ASIDE)
    }
    assert defined == set(FACT_TYPES)
    assert set(_HANDLERS) <= set(WORK_FACTS)
    assert set(CONDUCT) == set(CONDUCT_FACTS)
    assert defined == {*WORK_FACTS, *CONDUCT_FACTS, *HEAT_FACTS, FactVoided, *SHOW_FACTS, *BOOTH_FACTS}


def test_before_any_fact_everyone_is_ready() -> None:
    """Without facts nobody leads and every lane is ready."""
    state = fold(competition(), HEAT, [])
    assert state.leader is None
    assert state.round == 0
    assert {lane.status for lane in state.lanes.values()} == {Status.READY}


def test_numbers_of_a_lane_in_the_third_round() -> None:
    """At 44 a lane is through two rounds: 66 to go, next mark 45, and its splits are the station ends."""
    lane = heat(*rounds(Pad("a", 1), 2)).lanes[1]
    assert (lane.scored_reps, lane.reps_to_go, lane.position.round, lane.position.next_mark) == (44, 66, 3, 45)
    assert lane.splits[Mark(round=1, station=2)] == 2000
    assert lane.splits[Mark(round=2, station=4)] == 44_000
    assert len(lane.splits) == 8


def test_gaps_and_places_of_three_lanes() -> None:
    """With 44, 22 and 2 scored reps the gaps to the leader are 0, 22, 42 and to the next place 0, 22, 20."""
    pads = [Pad(f"lane-{n}", n) for n in (1, 2, 3)]
    state = heat(*rounds(pads[1], 2), *rounds(pads[0], 1), pads[2].reps(500), pads[2].block(900))
    assert state.order == (2, 1, 3)
    assert state.leader == 2
    assert state.round == 3
    assert [(state.lanes[n].place, state.lanes[n].gap_leader, state.lanes[n].gap_next) for n in (2, 1, 3)] == [
        (1, 0, 0),
        (2, 22, 22),
        (3, 42, 20),
    ]


def test_units_inside_a_block_are_progress_not_score() -> None:
    """Units counted inside a block move the lane forward but score nothing; the fortieth scores one."""
    pad = Pad("a", 1)
    facts = [pad.reps(100), pad.reps(200, 30)]
    lane = heat(*facts).lanes[1]
    assert (lane.scored_reps, lane.position.station_done) == (1, 30)
    lane = heat(*facts, pad.reps(300, 10)).lanes[1]
    assert (lane.scored_reps, lane.position.number) == (2, 3)


def test_a_block_called_outside_a_block_counts_nothing() -> None:
    """A second call of the same block is remarked, not counted."""
    pad = Pad("a", 1)
    lane = heat(pad.reps(100), pad.block(200), pad.block(300)).lanes[1]
    assert lane.scored_reps == 2
    assert lane.tally.remarks == ["no block in progress at 300 ms"]


def test_no_reps_cost_no_count() -> None:
    """A no-rep is counted for itself and never lowers the count."""
    pad = Pad("a", 1)
    lane = heat(pad.reps(100), pad.no_rep(200), pad.no_rep(300)).lanes[1]
    assert (lane.scored_reps, lane.tally.no_reps) == (1, 2)


def test_the_last_rep_finishes() -> None:
    """Without a call the finish is the last rep; the result is written m:ss.mmm."""
    lane = heat(*rounds(Pad("a", 1), 5)).lanes[1]
    assert (lane.status, lane.finish_ms, lane.outcome.result) == (Status.FINISHED, 110_000, "1:50.000")


def test_the_judges_call_is_the_finish() -> None:
    """A call after the last rep is the finish time."""
    pad = Pad("a", 1)
    lane = heat(*rounds(pad, 5), pad.finish(111_250)).lanes[1]
    assert lane.finish_ms == 111_250


def test_a_call_one_tap_early_holds_once_corrected() -> None:
    """A finish called with one tap missing does not finish the lane; the table's correction makes the call hold."""
    pad = Pad("a", 1)
    facts = [*rounds(pad, 5)[:-1], pad.finish(110_400)]
    assert heat(*facts).lanes[1].status is Status.WORKING
    corrected = Pad(TABLE, 1).correct(200_000, 110)
    lane = heat(*facts, corrected).lanes[1]
    assert (lane.status, lane.finish_ms) == (Status.FINISHED, 110_400)


def test_a_call_in_error_does_not_hold() -> None:
    """A finish called by mistake in round two is overtaken by the reps that follow."""
    pad = Pad("a", 1)
    lane = heat(*rounds(pad, 5), Pad("b", 1).finish(30_000)).lanes[1]
    assert lane.finish_ms == 110_000


def test_a_correction_sets_the_number() -> None:
    """After a correction the lane counts on from the corrected number, and the splits it took back are gone."""
    pad, table = Pad("a", 1), Pad(TABLE, 1)
    facts = [*rounds(pad, 1), table.correct(22_500, 21)]
    lane = heat(*facts).lanes[1]
    assert lane.scored_reps == 21
    assert Mark(round=1, station=4) not in lane.splits
    lane = heat(*facts, pad.reps(23_000)).lanes[1]
    assert (lane.scored_reps, lane.splits[Mark(round=1, station=4)]) == (22, 23_000)


@pytest.mark.parametrize(("reps", "reached_ms"), [(2, 1_000), (1, 1_000), (0, 0)])
def test_what_a_correction_leaves_was_reached_when_it_was_passed(reps: int, reached_ms: int) -> None:
    """Of 42 units sent at once, at a second, a correction later leaves some: they were there then; none never was."""
    lane = heat(Pad("a", 1).reps(1_000, n=42), Pad(TABLE, 1).correct(22_500, reps), clock_ms=30_000).lanes[1]
    assert (lane.scored_reps, lane.tally.reached_ms) == (reps, reached_ms)


def test_a_correction_to_the_count_that_is_there_changes_nothing() -> None:
    """No remark, no new time: the 22 reps were reached when they were tapped."""
    before = heat(*rounds(Pad("a", 1), 1)).lanes[1]
    after = heat(*rounds(Pad("a", 1), 1), Pad(TABLE, 1).correct(30_000, 22)).lanes[1]
    assert after.tally == before.tally
    assert after.tally.remarks == []


def test_the_cap_ends_counting() -> None:
    """A rep at the cap counts, one after it is remarked; unfinished lanes are capped with their reps to go."""
    pad = Pad("a", 1)
    lane = heat(pad.reps(CAP_MS), pad.block(CAP_MS + 1), clock_ms=CAP_MS).lanes[1]
    assert (lane.status, lane.outcome.result, lane.scored_reps) == (Status.CAPPED, "CAP+109", 1)
    assert lane.tally.remarks == ["after the end: BlockCompleted at 900001 ms"]


def test_ending_the_heat_ends_counting() -> None:
    """Once the officials end the heat, later reps do not count."""
    pad = Pad("a", 1)
    state = heat(pad.reps(100), Pad(TABLE).end(5000), pad.block(6000))
    assert state.over
    assert (state.lanes[1].status, state.lanes[1].scored_reps) == (Status.CAPPED, 1)


def test_who_withdraws_is_placed_last_without_points() -> None:
    """A withdrawal places after everyone with a result, whatever the count, ."""
    one, two, three = Pad("a", 1), Pad("b", 2), Pad("c", 3)
    state = heat(*rounds(one, 4), one.withdraw(100_000), two.reps(100), three.reps(100), three.block(200))
    assert [state.lanes[n].place for n in (3, 2, 1)] == [1, 2, 3]
    assert state.lanes[1].outcome.result == "WD"


def test_a_withdrawal_after_the_finish_leaves_the_finish() -> None:
    """Home at 1:50 and called then; tapped as withdrawn a minute later, the time and the place stand, with a remark."""
    one, two = Pad("a", 1), Pad("b", 2)
    done = rounds(one, 5)
    home_ms = max(fact.at_ms for fact in done)
    state = heat(*done, one.withdraw(home_ms + 60_000), *rounds(two, 5, step_ms=1100))
    assert [(state.lanes[n].status, state.lanes[n].place) for n in (1, 2)] == [
        (Status.FINISHED, 1),
        (Status.FINISHED, 2),
    ]
    assert state.lanes[1].finish_ms == home_ms
    assert state.lanes[1].tally.remarks == [f"after the finish: Withdrawn at {home_ms + 60_000} ms"]


def test_work_completed_by_a_correction_after_the_withdrawal_is_no_finish() -> None:
    """A correction that fills the count later does not bring home one who had stopped; one that lowers it undoes it."""
    one, two = Pad("a", 1), Pad("b", 2)
    late = [*rounds(one, 4), one.withdraw(200_000), one.correct(300_000, 110)]
    lowered = [*rounds(two, 5), two.withdraw(200_000), two.correct(300_000, 100)]
    state = heat(*late, *lowered)
    assert [state.lanes[n].status for n in (1, 2)] == [Status.WITHDRAWN, Status.WITHDRAWN]


def test_equal_times_share_the_better_place() -> None:
    """Two equal finishes share place 1; the next place is skipped. Source: common practice, no source."""
    state = heat(*rounds(Pad("a", 1), 5), *rounds(Pad("b", 2), 5), *rounds(Pad("c", 3), 5, step_ms=1100))
    assert [(lane.place, lane.place_shared) for lane in state.lanes.values()] == [(1, True), (1, True), (3, False)]


def test_the_tie_break_time_decides_among_equal_counts() -> None:
    """Capped with equal counts, the earlier time at the tie-break mark places better; without a mark they tie."""
    slow, fast = Pad("a", 1), Pad("b", 2)
    facts = [*rounds(slow, 2, step_ms=1200), *rounds(fast, 2)]
    mark = Mark(round=2, station=4)
    tied = heat(*facts, clock_ms=CAP_MS)
    decided = heat(*facts, clock_ms=CAP_MS, tie_break=mark)
    assert [tied.lanes[n].place for n in (1, 2, 3)] == [1, 1, 3]
    assert [decided.lanes[n].place for n in (1, 2, 3)] == [2, 1, 3]


def test_level_lanes_are_ordered_by_who_got_there_first() -> None:
    """Level on scored reps, places are shared; the order and the leader follow who got there first."""
    one, two = Pad("a", 1), Pad("b", 2)
    state = heat(one.reps(900), two.reps(500))
    assert (state.lanes[1].place, state.lanes[2].place, state.leader) == (1, 1, 2)


def test_divisions_are_placed_apart() -> None:
    """In a mixed heat a place counts among the entries of the same division."""
    one, two, three = Pad("a", 1), Pad("b", 2), Pad("c", 3)
    facts = [start(), *rounds(one, 2), *rounds(two, 1), three.reps(100)]
    state = fold(competition(men=[2]), HEAT, facts)
    assert [state.lanes[n].place for n in (1, 2, 3)] == [1, 1, 2]
    assert [state.lanes[n].gap_leader for n in (1, 2, 3)] == [0, 0, 43]


def test_as_many_as_possible_counts_without_end() -> None:
    """Fixed time: scored reps rank, there is no number to go, and the time makes the result final."""
    work = workout(kind="amrap", rounds=rounds_of_22(1), cap_ms=100_000)
    one, two = Pad("a", 1), Pad("b", 2)
    facts = [start(), *rounds(one, 3), *rounds(two, 2)]
    state = fold(competition(work), HEAT, facts, 100_000)
    lane = state.lanes[1]
    assert (lane.status, lane.place, lane.scored_reps, lane.reps_to_go) == (Status.TIMED, 1, 66, None)
    assert (lane.outcome.result, lane.position.round) == ("66 reps", 4)


def test_without_a_clock_the_last_fact_sets_it() -> None:
    """A fold without a clock stands at the latest fact that stands, voids apart."""
    pad = Pad("a", 1)
    rep = pad.reps(4000)
    assert fold(competition(), HEAT, [start(), rep]).clock_ms == 4000
    assert fold(competition(), HEAT, [start(), rep, pad.void(5000, rep)]).clock_ms == 0


def test_a_void_reaches_only_its_own_lane() -> None:
    """A void sent for lane 2 does not strike a fact of lane 1."""
    one, two = Pad("a", 1), Pad("b", 2)
    rep = one.reps(100)
    stray = FactVoided(id="x", heat=HEAT, at_ms=200, sender=two.sender, sequence=9, voids=rep.id, lane=2)
    assert heat(rep, stray).lanes[1].scored_reps == 1


def test_facts_of_another_heat_are_passed_over() -> None:
    """A recording with several heats folds into the one asked for."""
    from dataclasses import replace

    rep = Pad("a", 1).reps(100)
    assert heat(replace(rep, heat="other")).lanes[1].scored_reps == 0


def test_a_tap_is_counted_on_from_those_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """A lane that goes on is not counted from its first fact again."""
    pad = Pad("a", 1)
    book = CompetitionBook(competition(lanes=1), [Pad("starter").start(), *full_round(pad, 0)])
    assert book.at_clocks({HEAT: 30_000}, others_ms=0).heats[HEAT].tally(1).done == 61

    def again(*_: object, **__: object) -> None:
        raise AssertionError("counted from the first fact")

    monkeypatch.setattr(ForTimeCounting, "tally", again)
    book.add(pad.reps(31_000))
    assert book.at_clocks({HEAT: 32_000}, others_ms=0).heats[HEAT].tally(1).done == 62


@pytest.mark.parametrize(
    ("called_ms", "last_ms", "trail"),
    [
        (35_000, 30_000, [(10_000, 1), (20_000, 2), (35_000, 3)]),
        (25_000, 30_000, [(10_000, 1), (20_000, 2), (25_000, 3)]),
        (20_000, 30_000, [(10_000, 1), (20_000, 2), (20_000, 3)]),
        (30_000, 30_000, [(10_000, 1), (20_000, 2), (30_000, 3)]),
    ],
)
def test_results_use_the_trail_up_to_the_call(called_ms: int, last_ms: int, trail: list[tuple[int, int]]) -> None:
    """Two taps at 10 and 20 s, the third put right at 30: the trail ends with all three at the judge's call."""
    plan = Plan(workout(rounds=((Station(movement="Row", amount=3),),)), laps=1)
    taps = [(10_000, 1), (20_000, 2), (last_ms, 3)]
    tally = Tally(done=3, reached_ms=last_ms, counted_ms=20_000, trail=taps, finish_calls_ms=[called_ms])
    assert list(judged_trail(plan, tally)) == trail
