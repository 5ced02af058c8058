"""What the result, event, standings and next views say, worked out by hand on small competitions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from core.folding import fold
from core.samples import HEAT, Pad, competition
from core.test_overall import CAP_MS, on, race, stamp, trials
from tallywire.core.facts import (
    CountCorrected,
    DidNotStart,
    Fact,
    HeatSigned,
    HoldPlaced,
    HoldReleased,
    PenaltyGiven,
    PointsDeducted,
    RepCounted,
    SheetChecked,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.result_status import result_digest, result_status
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Competition, Heat, Measure, Part
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order
from tallywire.core.show.catalogue import missing_by_lane
from tallywire.core.show.surroundings import surroundings_of
from tallywire.core.standings.change import sight_of
from tallywire.core.views.event import event_frame
from tallywire.core.views.heat import heat_frame
from tallywire.core.views.next import next_frame
from tallywire.core.views.standings import quick_standings_frame, standings_frame
from tallywire.core.views.table import table_frame


def two_heats() -> Competition:
    """One event in two heats of two."""
    work = trials(1)
    first = replace(work.heats["e1"], lanes={1: "a", 2: "b"})
    return replace(work, heats={"e1": first, "f1": Heat(id="f1", name="f1", event="e1", lanes={1: "c", 2: "d"})})


def ended(book: CompetitionBook) -> Snapshot:
    """Every clock stands long after the end."""
    return book.at_clocks({}, others_ms=CAP_MS + 60_000)


def event_of(work: Competition, facts: Iterable[Fact], heat: str = "f1") -> dict[str, Any]:
    """The event view of a heat, when all that have started are over."""
    now = ended(CompetitionBook(work, facts))
    return event_frame(now, now.heats[heat])


def standings_of(work: Competition, facts: Iterable[Fact], heat: str) -> dict[str, Any]:
    """The standings view of a heat."""
    now = ended(CompetitionBook(work, facts))
    return standings_frame(work, sight_of(now, now.heats[heat]))


def signed(book: CompetitionBook, heat: str) -> list[Fact]:
    """Every scoresheet compared, and the head judge's signature under what stands."""
    own = ended(book).heats[heat]
    checks: list[Fact] = [on(SheetChecked, heat, lane, CAP_MS + 1, by="table") for lane in own.heat.lanes]
    stamped: Any = stamp(heat, CAP_MS + 2)
    return [*checks, HeatSigned(**stamped, by="head judge", digest=result_digest(own))]


def test_every_score_of_an_event_has_its_ranking() -> None:
    """After a minute a had more reps than b, in the end fewer; the first score is the one of the division."""
    parts = (
        Part(id="minute", name="After a minute", measure=Measure.REPS_AT, points="t", at_ms=60_000),
        Part(id="whole", name="Whole", measure=Measure.RESULT, points="t"),
    )
    base = trials(1)
    work = replace(base, events={"e1": replace(base.events["e1"], parts=parts)})
    facts = [*race("e1", [30, 10]), on(CountCorrected, "e1", 2, 70_000, scored_reps=40, reason="sheet")]
    ranking = event_of(work, facts, "e1")["ranking"]
    assert list(ranking) == ["open", "minute/open", "whole/open"]
    assert ranking["open"] == ranking["minute/open"]
    assert [ranking[name]["part"] for name in ranking] == ["After a minute", "After a minute", "Whole"]
    results = {name: [(row["entry"], row["result"]) for row in each["rows"].values()] for name, each in ranking.items()}
    assert results["minute/open"][:2] == [("a", "30 reps"), ("b", "10 reps")]
    assert results["whole/open"][:2] == [("b", "40 reps"), ("a", "30 reps")]


def test_the_event_ranks_both_heats_and_says_which_lanes_are_on_this_floor() -> None:
    """30, 10 and then 20, 40 reps: d, a, c, b. Only this heat's rows have a lane."""
    frame = event_of(two_heats(), [*race("e1", [30, 10]), *race("f1", [20, 40])])
    ranking = frame["ranking"]["open"]
    assert ranking["order"] == ["d", "a", "c", "b"]
    assert (ranking["heats"], ranking["raced"], ranking["over"]) == (2, 2, 2)
    rows = [ranking["rows"][entry] for entry in ranking["order"]]
    assert [(row["place"], row["points"], row["result"]) for row in rows] == [
        (1, 100, "40 reps"),
        (2, 90, "30 reps"),
        (3, 80, "20 reps"),
        (4, 70, "10 reps"),
    ]
    assert [row.get("lane") for row in rows] == [2, None, 1, None]


def test_while_a_later_heat_has_not_raced_the_event_is_live() -> None:
    """A tie shares the place; the stage says that nothing is settled."""
    frame = event_of(two_heats(), race("e1", [30, 30]), heat="e1")
    ranking = frame["ranking"]["open"]
    assert (ranking["heats"], ranking["raced"]) == (2, 1)
    assert [(row["place"], row["shared"]) for row in ranking["rows"].values()] == [(1, True), (1, True)]
    assert frame["result"] == {"stage": "live"}


def test_an_event_is_official_when_every_heat_of_it_is() -> None:
    """One signature of two leaves it provisional at best."""
    work = two_heats()
    facts = [*race("e1", [30, 10]), *race("f1", [20, 40])]
    one = [*facts, *signed(CompetitionBook(work, facts), "e1")]
    both = [*one, *signed(CompetitionBook(work, one), "f1")]
    assert event_of(work, one)["result"] == {"stage": "live"}
    assert event_of(work, both)["result"] == {"stage": "official"}


def test_a_lane_on_medical_hold_is_in_no_ranking() -> None:
    """Of any heat of the event; the places of the others stay, and it comes back when released."""
    facts = [*race("e1", [30, 10]), *race("f1", [20, 40]), on(HoldPlaced, "e1", 1, 2000)]
    assert event_of(two_heats(), facts)["ranking"]["open"]["order"] == ["d", "c", "b"]
    assert event_of(two_heats(), facts)["ranking"]["open"]["rows"]["c"]["place"] == 3
    rows = standings_of(two_heats(), facts, "f1")["standings"]["open"]["rows"]
    assert set(rows) == {"b", "c", "d"}
    released = [*facts, on(HoldReleased, "e1", 1, 3000)]
    assert event_of(two_heats(), released)["ranking"]["open"]["order"] == ["d", "a", "c", "b"]


def test_standings_tell_the_place_before_and_as_it_stands() -> None:
    """After 100, 90, 80, 70 comes 70, 80, 90, 100: all level at 170; a won the first, d the second, and so on.

    Count-back: a and d have each a first and a last, so the last event parts them: d, a; then b and c: c, b.
    """
    frame = standings_of(trials(), [*race("e1", [40, 30, 20, 10]), *race("e2", [10, 20, 30, 40])], "e2")
    found = frame["standings"]["open"]
    assert found["order"] == ["d", "a", "c", "b"]
    assert {entry: (row["before"]["place"], row["gained"], row["total"]) for entry, row in found["rows"].items()} == {
        "d": (4, 100, 170),
        "a": (1, 70, 170),
        "c": (3, 90, 170),
        "b": (2, 80, 170),
    }
    assert found["rows"]["a"]["best"] == {"place": 1, "event": "E1"}


def test_in_the_first_event_nothing_was_before() -> None:
    """Without points brought along there is no place before and nothing gained, only what there is."""
    frame = standings_of(trials(), race("e1", [40, 30, 20, 10]), "e1")
    assert all("before" not in row and "gained" not in row for row in frame["standings"]["open"]["rows"].values())


def test_a_later_event_is_not_in_the_standings_of_an_earlier_one() -> None:
    """Looking back shows what stood then."""
    facts = [*race("e1", [40, 30, 20, 10]), *race("e2", [10, 20, 30, 40])]
    assert standings_of(trials(), facts, "e1")["standings"]["open"]["order"] == ["a", "b", "c", "d"]


def test_a_deduction_in_the_event_is_no_part_of_the_place_before() -> None:
    """Fifty points off in the second event: they count after it, not before."""
    facts = [*race("e1", [40, 30, 20, 10]), *race("e2", [40, 30, 20, 10])]
    taken = on(PointsDeducted, "e2", 1, 5000, points=50, reason="late")
    row = standings_of(trials(), [*facts, taken], "e2")["standings"]["open"]["rows"]["a"]
    assert (row["before"]["total"], row["total"], row["gained"]) == (100, 150, 50)


def test_standings_hold_under_any_rules() -> None:
    """Where the fewest points win the order turns over."""
    work = replace(trials(), standing_rules=StandingRules(order=Order.FEWEST))
    frame = standings_of(work, [*race("e1", [40, 30, 20, 10]), *race("e2", [40, 30, 20, 10])], "e2")
    assert frame["standings"]["open"]["order"] == ["d", "c", "b", "a"]


def test_the_quick_view_is_the_same_without_standings() -> None:
    """What is sent for the moment differs in nothing else."""
    book = CompetitionBook(trials(), race("e1", [40, 30, 20, 10]))
    now = ended(book)
    sight = sight_of(now, now.heats["e1"])
    whole = standings_frame(book.competition, sight)
    assert quick_standings_frame(book.competition, sight) == {
        name: value for name, value in whole.items() if name != "standings"
    }


def test_the_next_heat_is_the_first_behind_that_has_not_started() -> None:
    """It goes by the order of the file and leaves out entries on medical hold; after the last heat there is none."""
    book = CompetitionBook(
        trials(3), [*race("e1", [1, 1, 1, 1]), *race("e2", [1, 1, 1, 1]), on(HoldPlaced, "e3", 2, 0)]
    )
    now = ended(book)
    found = next_frame(now, now.heats["e1"])
    assert found["lanes"] == {}
    assert found["next"]["heat"] == {"id": "e3", "name": "e3"}
    assert list(found["next"]["lanes"]) == ["1", "3", "4"]
    last = now.heats["e3"]
    assert "next" not in next_frame(now, last)
    assert not surroundings_of(now, last, exact=True).next


def test_what_stands_around_a_heat_refuses_its_views() -> None:
    """Before any heat of the event no ranking, without an exact answer no need, at the end no next heat."""
    now = CompetitionBook(trials(1)).at_last_facts()
    found = missing_by_lane(now.heats["e1"].state, surroundings_of(now, now.heats["e1"], exact=False))
    told = {view: reasons.get("heat") for view, reasons in found.items()}
    expected = {
        "result": "the heat has not started",
        "event": "no heat of the event has started",
        "standings": "no heat of the event has started",
        "needed": "what is needed has no exact answer here",
        "next": "no heat comes after this one",
    }
    assert {view: told.get(view) for view in expected} == expected


def test_standings_tell_who_has_raced_and_the_best_place_that_has_a_result() -> None:
    """c did not start the first event: its third there, behind two with a result, is no best place.

    In the second a race has begun for a and b alone, whose heat comes first: c has not raced it.
    """
    base = trials(2, "abc")
    heats = {
        "e1": base.heats["e1"],
        "e2": replace(base.heats["e2"], lanes={1: "a", 2: "b"}),
        "late": Heat(id="late", name="late", event="e2", lanes={1: "c"}),
    }
    facts = [*race("e1", [40, 30]), on(DidNotStart, "e1", 3), *race("e2", [10, 20])]
    rows = standings_of(replace(base, heats=heats), facts, "e2")["standings"]["open"]["rows"]
    assert {entry: row["raced"] for entry, row in rows.items()} == {"a": True, "b": True, "c": False}
    assert {entry: row.get("best", {}).get("place") for entry, row in rows.items()} == {"a": 1, "b": 2, "c": None}


def test_the_table_sees_the_latest_twenty_remarks() -> None:
    """Each tap after the end is a remark; of twenty-two the last twenty are shown, in their order."""
    late = [on(RepCounted, "e1", 1, CAP_MS + number, n=1) for number in range(1, 23)]
    book = ended(CompetitionBook(trials(1), [*race("e1", [9, 8, 7, 6], end=False), *late]))
    own = book.heats["e1"]
    remarks = table_frame(trials(1), own.state, result_status(own))["lanes"]["1"]["remark_list"]
    assert [int(each.split(" at ")[1].split()[0]) - CAP_MS for each in remarks] == [*range(3, 23)]


def test_nobody_leads_before_the_first_rep() -> None:
    """The heat view names a leader once somebody has counted work, and nobody on a floor that has only begun."""
    begun = [Pad("starter").start()]
    states = [fold(competition(), HEAT, facts, 1000) for facts in (begun, [*begun, Pad("a", 2).reps(900)])]
    assert [heat_frame(competition(), each)["leader"] for each in states] == [{}, {"lane": 2, "round": 1}]


def test_a_lane_shows_what_it_has_and_nothing_else() -> None:
    """Penalty seconds, a finish and a withdrawal stand in the heat view of the lane that has them alone."""
    facts = [
        Pad("starter").start(),
        Pad("a", 1).conduct(PenaltyGiven, 900, ms=15_000, reps=0, reason="line"),
        Pad("b", 2).withdraw(950),
    ]
    lanes = heat_frame(competition(), fold(competition(), HEAT, facts, 1000))["lanes"]
    asked = {"penalty_ms", "finish_ms", "withdrawn_ms"}
    shown = {number: asked & lane.keys() for number, lane in lanes.items()}
    assert shown == {"1": {"penalty_ms"}, "2": {"withdrawn_ms"}, "3": set()}
    assert (lanes["1"]["penalty_ms"], lanes["2"]["withdrawn_ms"]) == (15_000, 950)
