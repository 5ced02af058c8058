"""What a heat is worth overall, under the rules a competition file can choose; worked out by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from core.called import call
from core.test_overall import CAP_MS, on, race, trials, with_event
from tallywire.cli.callsheet_report import callsheet_report
from tallywire.core.clinching.before import division_before
from tallywire.core.clinching.stakes import Stakes, answerable, heat_stakes
from tallywire.core.facts import Fact, PointsDeducted, Withdrawn
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, CutAfter, Division, Heat, Measure, Part
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, PointsTable, TiePolicy
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order
from tallywire.core.standings.in_event import event_rows


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
    after = {each.entry: int(each.points_after) for each in found.swings}
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


def test_with_two_open_scores_nothing_is_claimed_and_one_is_answered() -> None:
    """Two scores of one performance: while both are open it is not worked out; with the first in, the second is.

    Then a has 200, b 180, c 160: as third a has 280, level with b's win, and more first places.
    """
    parts = (
        Part(id="early", name="Early", measure=Measure.REPS_AT, points="t", at_ms=30_000),
        Part(id="whole", name="Whole", measure=Measure.RESULT, points="t"),
    )
    two = with_event(trials(), "e2", parts=parts)
    facts = [*race("e1", [9, 8, 7, 6]), *race("e2", [4, 3, 2, 1], end=False)]
    assert stakes(two, facts, "e2", 20_000).unknown == "several_scores"
    later = stakes(two, facts, "e2", 60_000)
    assert later.unknown is None
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
    ("ties", "safe"), [(CutTies.BY_TIE_RULES, False), (CutTies.KEEP_ALL, True), (CutTies.NONE, None)]
)
def test_a_cut_is_looked_at_as_its_ties_go(ties: CutTies, safe: bool | None) -> None:
    """Three go on after the second event. a, last of four, has 170; b, c and d all first have 190, 180 and 170.

    d is then level and stands ahead by the last event: a is out by the tie rules, and in where all who are level go on.
    Where all who are level go out, nothing is said.
    """
    base = replace(trials(3), cuts=(CutAfter(event="e2", cut=Cut(size=3, ties=ties)),))
    found = stakes(base, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2").prospects["a"].cut
    assert (None if found is None else found.safe_for(3)) is safe


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


def test_a_table_that_rises_is_said_not_to_be_worked_out() -> None:
    """Where second earns more than first the call says that it is not worked out, and why; the standing stays."""
    rising = replace(trials(), points={"t": PointsTable((90, 100, 80, 70))})
    assert not answerable(rising, rising.events["e2"])
    assert answerable(trials(), trials().events["e2"])
    frame: dict[str, Any] = call(rising, [*race("e1", [9, 8, 7, 6]), *begun("e2")], "e2", 60_000)
    assert frame["overall"]["open"]["not_worked_out"] == "rising_points"
    assert [row["entry"] for row in frame["overall"]["open"]["rows"]] == ["b", "a", "c", "d"]
    assert all("stakes" not in lane for lane in frame["lanes"].values())


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
    lanes = callsheet_report(CompetitionBook(work, facts[:6]), work.heats["e2"]).sections[0].rows
    assert [row[3:5] for row in lanes] == [["–", "–"], ["–", "–"], ["1", "100"], ["–", "–"]]
    assert "whatever happens" in lanes[2][-1]
