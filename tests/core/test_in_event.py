"""A lane's place in the event, as every frame has it, is that of the event's table."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.samples import rounds_of_22
from core.test_overall import CAP_MS, on, race, trials, with_event
from tallywire.core.facts import CountCorrected, Disqualified, Fact, PenaltyGiven, Withdrawn
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.model.workout import Workout
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, TiePolicy
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order
from tallywire.core.standings.in_event import event_rows, in_event, lanes_in_event
from tallywire.core.standings.overall import division_series
from tallywire.core.views.heat import worth_data


def two_heats(**changes: object) -> Competition:
    """One event in two heats of three."""
    base = with_event(trials(1, "abcdef"), "e1", **changes)
    first = replace(base.heats["e1"], lanes={1: "a", 2: "b", 3: "c"})
    return replace(
        base, heats={"e1": first, "e1b": Heat(id="e1b", name="2", event="e1", lanes={1: "d", 2: "e", 3: "f"})}
    )


def facts() -> list[Fact]:
    """Ties within and across the heats, a withdrawal and a disqualification."""
    first = [*race("e1", [9, 8, 8]), on(Withdrawn, "e1", 3, 500)]
    return [*first, *race("e1b", [8, 9, 3], end=False), on(Disqualified, "e1b", 3, 2_000, reason="conduct")]


@pytest.mark.parametrize("ties", TiePolicy)
@pytest.mark.parametrize("order", Order)
@pytest.mark.parametrize("least", [0, 9])
@pytest.mark.parametrize("heat", ["e1", "e1b"])
def test_the_lanes_of_a_frame_are_those_of_the_table(ties: TiePolicy, order: Order, least: int, heat: str) -> None:
    """Places, ties, points and the result to beat, for either tie policy and order, with a least of work or none."""
    work = replace(trials(1).events["e1"].workout, minimum_reps=least)
    competition = replace(two_heats(ties=ties, workout=work), standing_rules=StandingRules(order=order))
    snapshot = CompetitionBook(competition, facts()).at_clocks({heat: 3_000}, others_ms=CAP_MS)
    own = snapshot.heats[heat]
    assert in_event(snapshot, own) == lanes_in_event(event_rows(snapshot, own), own)


def test_of_a_shared_place_only_those_who_did_the_least_work_share_the_points() -> None:
    """Three finish together; one, with ten reps taken, is under the least: the others earn 95 each, as in the table."""
    base = two_heats(ties=TiePolicy.MEAN)
    work = Workout(format="for_time", rounds=rounds_of_22(1), time_cap_ms=CAP_MS, minimum_reps=20)
    competition = with_event(base, "e1", workout=work)
    penalty = on(PenaltyGiven, "e1", 3, 2_000, reps=10, ms=0, reason="lane")
    snapshot = CompetitionBook(competition, [*race("e1", [22, 22, 22]), penalty]).at_last_facts()
    own = snapshot.heats["e1"]
    found = in_event(snapshot, own)
    assert found == lanes_in_event(event_rows(snapshot, own), own)
    assert [(found[lane].place, found[lane].points) for lane in (1, 2, 3)] == [(1, 95), (1, 95), (1, 0)]
    scores = division_series(snapshot, "open").scores[-1].scores
    assert [int(scores[entry].points) for entry in "abc"] == [95, 95, 0]


def test_a_vacant_place_makes_the_places_worth_what_their_lanes_have() -> None:
    """By hand, from docs/scoring.md: second of three is vacant, so the last is fourth and the field four from then on.

    Of 100 * (field - place) / field first has 75, third 25 and fourth nothing; of two with a result first has 66.67.
    """
    base = with_event(trials(1, "abc"), "e1", vacant=(("open", 2),))
    competition = replace(base, points={"t": FormulaTable(Formula("100 * (field - place) / field"))})
    book = CompetitionBook(competition, race("e1", [9, 8, 7], end=False))
    now = book.at_last_facts()
    assert worth_data(now, now.heats["e1"]) == {"worth": {"open": [75, 50, 25, 0]}}
    assert [each.points for each in in_event(now, now.heats["e1"]).values()] == [75, 25, 0]
    book.add(on(Withdrawn, "e1", 3, 2_000))
    now = book.at_last_facts()
    assert worth_data(now, now.heats["e1"]) == {"worth": {"open": [66.67, 33.33, 0]}}
    assert [each.points for each in in_event(now, now.heats["e1"]).values()] == [66.67, 0, 0]


def test_a_result_that_is_kept_is_judged_anew_after_a_correction() -> None:
    """After the end a result is kept until a fact about the lane comes."""
    book = CompetitionBook(two_heats(), facts())
    heat = book.heats["e1"]
    assert heat.at(CAP_MS).outcome(1).scored_reps == 9
    book.add(on(CountCorrected, "e1", 1, CAP_MS + 5, scored_reps=7, reason="sheet"))
    assert heat.at(CAP_MS).outcome(1).scored_reps == 7
