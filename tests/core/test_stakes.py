"""What a heat is worth overall, under the rules a competition file can choose; worked out by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from core.called import call
from core.folding import fold
from core.samples import HEAT, Pad, competition, full_round, rounds_of_22, workout
from core.test_overall import CAP_MS, on, race, trials, with_event
from tallywire.cli.callsheet_report import callsheet_report
from tallywire.core.clinching.before import division_before
from tallywire.core.clinching.prospects import Stakes
from tallywire.core.clinching.stakes import heat_stakes, says_something
from tallywire.core.facts import CountCorrected, Disqualified, Fact, Finished, PointsDeducted, Withdrawn
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, CutAfter, Division, Heat, Measure, Part
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, PointsTable, TiePolicy
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order
from tallywire.core.standings.in_event import event_rows
from tallywire.wire.catalogue import catalogue


def stakes(competition: Competition, facts: Iterable[Fact], heat: str, at_ms: int = 60_000) -> Stakes:
    """The stakes of the one division in a heat, other heats long over."""
    snapshot = CompetitionBook(competition, facts).at_clocks({heat: at_ms}, others_ms=10**9)
    own = snapshot.heats[heat]
    before = {"open": division_before(snapshot, "open", own.event.id)}
    rows = event_rows(snapshot, own)
    return heat_stakes(competition, own.state, before=before, rows=rows)["open"]


def places_needed(found: Stakes, entry: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The places that make the lead certain, and those with which it is possible."""
    need = found.prospects[entry].need
    return need.clinching, need.leading


def begun(heat: str) -> list[Fact]:
    """A heat that runs, and nobody has done anything."""
    return race(heat, [], end=False)


def test_by_default_a_ten_point_step_is_needed_as_worked_out_by_hand() -> None:
    """100 90 80 70 before the last event, and the same to win.

    a is certain as first; as second b's win draws level (190) and the last event decides for b. As third (180) it leads
    if b is last; as fourth (170) never: of b third, c second and d first, d is level and better in the last event. b
    leads as second (180) if a is last and c not first, as third (170) never: a last is level and has a first place.
    """
    found = stakes(trials(), [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert places_needed(found, "a") == ((1,), (1, 2, 3))
    assert places_needed(found, "b")[1] == (1, 2)
    assert found.unknown is None


def test_live_places_say_something_from_the_half_of_work_or_time_on() -> None:
    """Of two rounds the first is the half, less its last rep is not; of the cap the half to the millisecond."""
    work, first_round = competition(workout(rounds=rounds_of_22(2))), full_round(Pad("pad", 1), 0)
    half_ms = workout().time_cap_ms // 2
    for facts, at_ms, told in (
        (first_round, 60_000, True),
        (first_round[:-1], 60_000, False),
        ([], half_ms, True),
        ([], half_ms - 1, False),
    ):
        assert says_something(fold(work, HEAT, [Pad("starter").start(), *facts], at_ms)) is told


def test_a_dropped_score_can_be_made_good() -> None:
    """With the worst of two dropped the better place counts: d, last before, can lead with a win alone.

    Its 100 then is level with a's; a, second (90 dropped), has one counted first as well, and the last event decides.
    """
    rules = StandingRules(drop_worst=1)
    found = stakes(replace(trials(), standing_rules=rules), [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert places_needed(found, "d") == ((1,), (1,))
    assert places_needed(found, "a")[0] == (1,)


def test_with_low_points_the_fewest_win() -> None:
    """Places added up, 1 2 3 4 before: a on second is 3 like b on first, and the place in the last event decides.

    b on second is 4: it leads if a is last (5) and c not first; on third (5) a on fourth is level with a first place.
    d on first is 5, level with a last, b third and c second, and better in the last event.
    """
    low = replace(
        trials(), points={"t": FormulaTable(Formula("place"))}, standing_rules=StandingRules(order=Order.FEWEST)
    )
    found = stakes(low, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert places_needed(found, "a")[0] == (1,)
    assert places_needed(found, "b")[1] == (1, 2)
    assert places_needed(found, "d") == ((), (1,))


def test_the_mean_of_shared_places_counts() -> None:
    """Ties by the mean are answered too: on places of one's own the answers are as before."""
    mean = with_event(trials(), "e2", ties=TiePolicy.MEAN)
    found = stakes(mean, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert places_needed(found, "a") == ((1,), (1, 2, 3))


def test_deductions_count() -> None:
    """Fifteen points off: b, on 90, stands before a on 85."""
    facts = [*race("e1", [9, 8, 7, 6]), on(PointsDeducted, "e1", 1, points=15, reason="late"), *begun("e2")]
    found = stakes(trials(), facts, "e2")
    assert [(each.entry, int(each.points_before)) for each in found.swings] == [
        ("b", 90),
        ("a", 85),
        ("c", 80),
        ("d", 70),
    ]
    assert places_needed(found, "b")[0] == (1,)


def test_less_than_the_least_work_earns_nothing() -> None:
    """With a least of five, c is in with three reps: third place at best, and no points for it."""
    base = trials()
    least = with_event(base, "e2", workout=replace(base.events["e2"].workout, minimum_reps=5))
    found = stakes(least, [*race("e1", [9, 8, 7, 6]), *race("e2", [9, 8, 3, 0])], "e2", CAP_MS + 1)
    after = {each.entry: int(each.points_before + each.gained) for each in found.swings}
    assert after == {"a": 200, "b": 180, "c": 80, "d": 70}
    assert found.clinched == "a"


def test_the_least_work_can_still_be_done() -> None:
    """With one rep each of a least of five nothing is decided: all that could be reached can be reached still."""
    base = trials()
    least = with_event(base, "e2", workout=replace(base.events["e2"].workout, minimum_reps=5))
    facts = [*race("e1", [9, 8, 7, 6]), *race("e2", [1, 1, 1, 1], end=False)]
    found, free = stakes(least, facts, "e2"), stakes(base, facts, "e2")
    assert found.clinched is None
    assert found.prospects == free.prospects


def test_two_open_scores_are_answered_with_a_place_in_each() -> None:
    """Two scores of one performance, 100 90 80 70 each, after a win of a over b.

    With both open a's two wins make 300, and nobody comes near; with second in both it has 280, and b with two wins
    290. With the first in a has 200, b 180, c 160: as third a has 280, level with b's win, and more first places.
    """
    parts = (
        Part(id="early", name="Early", measure=Measure.REPS_AT, points="t", at_ms=30_000),
        Part(id="whole", name="Whole", measure=Measure.RESULT, points="t"),
    )
    two = with_event(trials(), "e2", parts=parts)
    facts = [*race("e1", [9, 8, 7, 6]), *race("e2", [4, 3, 2, 1], end=False)]
    both = stakes(two, facts, "e2", 20_000)
    assert (both.unknown, both.scores) == (None, 2)
    assert places_needed(both, "a")[0] == (1,)
    assert both.prospects["a"].beats == ()
    later = stakes(two, facts, "e2", 60_000)
    assert (later.unknown, later.scores) == (None, 1)
    assert places_needed(later, "a") == ((1, 2, 3), (1, 2, 3, 4))
    assert {each.entry: int(each.gained) for each in later.swings}["a"] == 200


def two_heats(seeded: Mapping[int, str]) -> Competition:
    """The second event in two heats: d alone first, the others later, perhaps not seeded yet."""
    base = trials()
    heats = {
        "e1": base.heats["e1"],
        "e2": replace(base.heats["e2"], lanes={1: "d"}),
        "e2b": Heat(id="e2b", name="later", event="e2", lanes=seeded),
    }
    return replace(base, heats=heats)


@pytest.mark.parametrize("seeded", [{}, {1: "a", 2: "b", 3: "c"}], ids=["later heat unseeded", "later heat seeded"])
def test_who_is_not_on_a_lane_yet_still_contends(seeded: Mapping[int, str]) -> None:
    """While the last heat has no lanes yet, everybody still in is counted: d, on the floor alone, has won nothing."""
    found = stakes(two_heats(seeded), [*race("e1", [9, 8, 7, 6]), *race("e2", [5])], "e2", CAP_MS + 1)
    assert found.clinched is None
    assert found.prospects["d"].need.possible == (1, 2, 3, 4)


def test_who_has_left_the_competition_is_out() -> None:
    """a left after the first event: it keeps its 100 points and cannot add to them."""
    base = trials()
    gone = replace(base, entries={**base.entries, "a": replace(base.entries["a"], left_after="e1")})
    gone = replace(gone, heats={**base.heats, "e2": replace(base.heats["e2"], lanes={2: "b", 3: "c", 4: "d"})})
    found = stakes(gone, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert "a" not in found.prospects
    assert found.prospects["b"].need.possible == (1, 2, 3)
    assert {each.entry for each in found.swings} == {"a", "b", "c", "d"}


def test_after_a_cut_only_those_still_in_contend() -> None:
    """Two go on after the first event: the others are no rivals any more."""
    base = replace(trials(), cuts=(CutAfter(event="e1", cut=Cut(size=2)),))
    base = replace(base, heats={**base.heats, "e2": replace(base.heats["e2"], lanes={1: "a", 2: "b"})})
    found = stakes(base, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert [each.entry for each in found.swings] == ["a", "b"]
    assert found.prospects["b"].need.possible == (1, 2)


@pytest.mark.parametrize(
    ("ties", "safe"), [(CutTies.BY_TIE_RULES, False), (CutTies.KEEP_ALL, True), (CutTies.NONE, False)]
)
def test_a_cut_is_looked_at_as_its_ties_go(ties: CutTies, safe: bool) -> None:
    """Three go on after the second event. a, last of four, has 170; b, c and d all first have 190, 180 and 170.

    d is then level and stands ahead by the last event: a is out by the tie rules, and in where all who are level go on.
    Where all who are level go out, a is out too.
    """
    base = replace(trials(3), cuts=(CutAfter(event="e2", cut=Cut(size=3, ties=ties)),))
    found = stakes(base, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2").prospects["a"].cut
    assert found is not None
    assert found.safe_for(3) is safe
    assert found.can_reach(3)


def test_to_lead_whatever_happens_a_withdrawal_must_not_matter() -> None:
    """On any place a leads with 40 up and a table to 70; were it to withdraw, b could pass. It has not clinched yet."""
    base = replace(trials(), points={"t": PointsTable((100, 90, 80, 70))})
    base = replace(base, entries={**base.entries, "a": replace(base.entries["a"], points_before=40)})
    facts = [*race("e1", [9, 8, 7, 6]), *begun("e2")]
    found = stakes(base, facts, "e2")
    assert found.prospects["a"].need.clinched
    assert found.clinched is None
    withdrawn = stakes(base, [*facts, on(Withdrawn, "e2", 2, 1_000), on(Withdrawn, "e2", 3, 1_000)], "e2")
    assert withdrawn.clinched is None


def test_a_table_that_rises_is_worked_out_while_few_are_open() -> None:
    """90 100 80 70, where second earns the most, after the same: b has 100, a 90, c 80, d 70.

    With 200 (second) b is ahead of all. With 190 (first) it is, unless a is second and level (190): both are second and
    first then, and the last event decides for b, which won it. With 180 (third) b is behind a on second (190).
    """
    rising = replace(trials(), points={"t": PointsTable((90, 100, 80, 70))})
    found = stakes(rising, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2")
    assert found.unknown is None
    assert places_needed(found, "b")[0] == (1, 2)
    assert 3 in places_needed(found, "b")[1]


def test_a_table_that_rises_is_said_not_to_be_worked_out_while_many_are_open() -> None:
    """Of nine open entries there are seven million orders: the call says so, and why; the standing stays."""
    rising = replace(trials(2, "abcdefghi"), points={"t": PointsTable((90, 100, 80, 70))})
    frame: dict[str, Any] = call(rising, [*race("e1", range(9, 0, -1)), *begun("e2")], "e2", 60_000)
    assert frame["overall"]["open"]["not_worked_out"] == "rising_points"
    assert [row["entry"] for row in frame["overall"]["open"]["rows"]][:4] == ["b", "a", "c", "d"]
    assert all("stakes" not in lane for lane in frame["lanes"].values())


def test_a_disqualification_that_must_count_is_not_dropped() -> None:
    """One of three dropped, but not a disqualification: a has 100 and 100 and is disqualified in the third event.

    Its zero counts and a 100 is dropped: it has 100, and b, c and d with 90, 80 and 70 twice have more with any place,
    so it is last. Where a disqualification may be dropped it keeps 200, which nobody passes.
    """
    base = replace(trials(3), standing_rules=StandingRules(drop_worst=1), drop_disqualified=False)
    facts = [*race("e1", [9, 8, 7, 6]), *race("e2", [9, 8, 7, 6]), *begun("e3")]
    out = on(Disqualified, "e3", 1, 1_000, reason="conduct")
    found = stakes(base, [*facts, out], "e3")
    assert {each.entry: int(each.points_before + each.gained) for each in found.swings}["a"] == 100
    assert (found.prospects["a"].need.best, found.prospects["a"].need.worst) == (4, 4)
    assert found.clinched is None
    dropped = replace(base, drop_disqualified=True)
    assert stakes(dropped, [*facts, out], "e3").clinched == "a"


def for_time() -> Competition:
    """The second event for time: 22 scored reps."""
    work = trials().events["e2"].workout
    return with_event(trials(), "e2", workout=replace(work, format="for_time"))


def full(lane: int, at_ms: int) -> Fact:
    """The count of a lane is full."""
    return on(CountCorrected, "e2", lane, at_ms, scored_reps=22, reason="sheet")


def test_a_finish_is_open_until_the_judge_has_called_it() -> None:
    """Full at 24.4 and 24.6, called at 25.3 and 24.7: the second is ahead in the end, so neither is sure before.

    Both have 190 with first and second in the two events; who won the last leads. Before the calls either may.
    """
    facts = [*race("e1", [9, 9, 7, 6]), *begun("e2"), full(1, 24_400), full(2, 24_600)]
    before = stakes(for_time(), facts, "e2", 24_650)
    assert before.clinched is None
    assert before.prospects["b"].need.alive
    called = [on(Finished, "e2", 2, 24_700), on(Finished, "e2", 1, 25_300)]
    assert stakes(for_time(), [*facts, *called[:1]], "e2", 24_800).clinched is None
    assert stakes(for_time(), [*facts, *called], "e2", 25_400).clinched == "b"


def test_a_finish_that_is_not_called_stands_when_the_heat_is_over() -> None:
    """Without a call the moment the count was full is the time, once no call can come."""
    facts = [*race("e1", [9, 9, 7, 6]), *begun("e2"), full(1, 24_400), full(2, 24_600)]
    assert stakes(for_time(), facts, "e2", CAP_MS + 1).clinched == "a"


def test_an_event_before_that_is_not_complete_is_not_taken_for_zero() -> None:
    """d has not raced the first event yet and may still earn 100 there: nothing is said before it has."""
    base = trials(3)
    heats = {
        **base.heats,
        "e1": replace(base.heats["e1"], lanes={1: "a", 2: "b", 3: "c"}),
        "late": Heat(id="late", name="late", event="e1", lanes={1: "d"}),
    }
    work = replace(base, heats=heats)
    facts = [*race("e1", [9, 8, 7]), *race("e2", [9, 8, 7, 6]), *race("e3", [9, 8, 7, 6])]
    assert stakes(work, facts, "e3", CAP_MS + 1).unknown == "earlier_event"
    assert stakes(work, [*facts, *race("late", [5])], "e3", CAP_MS + 1).clinched == "a"


def test_what_is_needed_waits_while_a_place_of_the_event_is_vacant() -> None:
    """Nothing is said with a vacant place in the event that is on; one of an event before is paid and done with."""
    base = trials(2)
    facts = [*race("e1", [9, 8, 7, 6]), *race("e2", [9, 8, 7, 6])]
    division = next(iter(base.divisions))

    def asked(event: str) -> Stakes:
        left = replace(base.events[event], vacant=((division, 2),))
        return stakes(replace(base, events={**base.events, event: left}), facts, "e2", CAP_MS + 1)

    assert asked("e2").unknown == "vacant_place"
    assert asked("e1").unknown is None
    assert [asked(each).swings[1].gained for each in ("e1", "e2")] == [90, 80]


@pytest.mark.parametrize("left", ["e1", "e2"], ids=["and races on", "with the event that is on"])
def test_one_who_leaves_takes_nobodys_place_in_the_cut(left: str) -> None:
    """Three of four go on; d is the only other one, so that with a gone b, c and d are in for certain, and a is not."""
    base = replace(trials(), cuts=(CutAfter(event="e2", cut=Cut(size=3)),))
    base = replace(base, entries={**base.entries, "a": replace(base.entries["a"], left_after=left)})
    found = stakes(base, [*race("e1", [9, 8, 7, 6]), *race("e2", [9, 8, 7, 6], end=False)], "e2").prospects
    cuts = {entry: each.cut for entry, each in found.items()}
    assert {entry for entry, cut in cuts.items() if cut is not None and cut.safe_for(3)} == {"b", "c", "d"}
    assert cuts["a"] is not None
    assert not cuts["a"].can_reach(3)
    assert found["a"].need.alive


def test_whom_to_beat_says_where_a_new_tie_may_break_it() -> None:
    """Where those who share a place earn the mean it holds on places of their own; where the better one's, always."""
    facts = [*race("e1", [9, 8, 7, 6]), *begun("e2")]
    mean = stakes(with_event(trials(), "e2", ties=TiePolicy.MEAN), facts, "e2").prospects["b"]
    better = stakes(trials(), facts, "e2").prospects["b"]
    assert [each.tie_may_break for each in mean.beats] == [True, True]
    assert [each.tie_may_break for each in better.beats] == [False, False]


def emptied() -> tuple[Competition, list[Fact]]:
    """Two divisions with a cut to one each: a and b are level, so that nobody of theirs goes on; c does, d does not."""
    base, cuts = trials(), CutAfter(event="e1", cut=Cut(size=1, ties=CutTies.NONE))
    divisions = {**base.divisions, "other": Division(id="other", name="Other")}
    entries = {
        each.id: replace(each, division="open" if each.id in "ab" else "other") for each in base.entries.values()
    }
    work = replace(base, divisions=divisions, entries=entries, cuts=(cuts,))
    return work, [*race("e1", [9, 9, 8, 7]), *race("e2", [5, 6, 7, 8], end=False)]


@pytest.mark.parametrize("quick", [False, True])
def test_a_division_that_a_cut_has_emptied_leaves_the_call_of_the_others_standing(quick: bool) -> None:
    """Its lanes race as guests, without a standing; of the other division c alone is in, and leads whatever happens."""
    work, facts = emptied()
    frame = call(work, facts, "e2", 400_000, quick=quick)
    lanes = {each["entry"]: each for each in frame["lanes"].values()}
    assert {name for name, lane in lanes.items() if "in_event" in lane} == {"c"}
    if not quick:
        assert [row["entry"] for row in frame["overall"]["other"]["rows"]] == ["c"]
        assert frame["overall"]["open"]["rows"] == []
        assert lanes["c"]["stakes"]["clinched"]
        assert "stakes" not in lanes["a"]


def test_a_division_that_a_cut_has_emptied_is_on_the_call_sheet_without_a_standing() -> None:
    """Dashes for the guests of both divisions, and what c needs."""
    work, facts = emptied()
    lanes = callsheet_report(CompetitionBook(work, facts[:6]), work.heats["e2"], catalogue("en")).sections[0].rows
    assert [row[3:5] for row in lanes] == [["–", "–"], ["–", "–"], ["1", "100"], ["–", "–"]]
    assert "whatever happens" in lanes[2][-1]
