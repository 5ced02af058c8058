"""The overall standing by hand, and against published results."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction

import pytest

from core.published import published, published_rows
from core.samples import competition
from core.standing_samples import LOW_POINT, TEN_STEP, by_places, entrants, line, places_of
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Division
from tallywire.core.ranking.places import places
from tallywire.core.ranking.points import FlooredTable, PointsTable, award
from tallywire.core.ranking.standing import (
    Deduction,
    Entrant,
    EventScores,
    Scored,
    StandingRules,
    deciding_rule,
    standing,
)
from tallywire.core.ranking.tie_rules import Order, TieRule
from tallywire.core.standings.overall import division_series

SAILING = StandingRules(order=Order.FEWEST, drop_worst=1, ties=(TieRule.BEST_SCORES, TieRule.LATEST_EVENTS))
COUNT_BACK_ONLY = StandingRules(ties=(TieRule.COUNT_BACK,))


def test_a_series_at_sea_parted_by_best_scores() -> None:
    """All total 16 with one race excluded: C, B, A. Source: Racing Rules of Sailing, Appendix A, worked example 1.

    A8.1 puts C first (its fourth best is 3, not 4); A8.2 puts B before A (6 against 7 in the last race).
    """
    lines = {"A": (3, 4, 1, 6, 2, 7), "B": (4, 3, 2, 1, 6, 6), "C": (1, 2, 7, 3, 3, 14)}
    rows = standing(entrants(lines), by_places(lines, LOW_POINT), SAILING)
    assert line(rows) == "1 C 16, 2 B 16, 3 A 16"
    assert [row.decided_by for row in rows] == [TieRule.BEST_SCORES, TieRule.LATEST_EVENTS, TieRule.LATEST_EVENTS]
    dropped = {row.entry: [cell.event for cell in row.cells if cell.dropped] for row in rows}
    assert dropped == {"A": ["e6"], "B": ["e5"], "C": ["e6"]}, "A2.1: the earliest of equal worst scores"


def test_a_series_at_sea_parted_by_the_last_race() -> None:
    """All count 3, 4, 5: D, C, B, A by the last race, excluded or not. Source: as above, worked example 2."""
    lines = {"A": (3, 4, 5, 10), "B": (11, 3, 4, 5), "C": (5, 15, 3, 4), "D": (4, 5, 6, 3)}
    rows = standing(entrants(lines), by_places(lines, LOW_POINT), SAILING)
    assert line(rows) == "1 D 12, 2 C 12, 3 B 12, 4 A 12"
    assert {row.decided_by for row in rows} == {TieRule.LATEST_EVENTS}


def test_three_level_on_points_after_three_races() -> None:
    """22 points each: a first and a second beats a first and two thirds beats no first.

    Sources: motor sport's sporting regulations, art. 7.2; the 2007 season after three races, points table and places
    from memory, order as published then.
    """
    table = PointsTable((10, 8, 6, 5, 4, 3, 2, 1))
    lines = {"rookie": (3, 2, 2), "winner of race 1": (1, 3, 3), "winner of race 2": (2, 1, 5)}
    rows = standing(entrants(lines), by_places(lines, table), COUNT_BACK_ONLY)
    assert line(rows) == "1 winner of race 2 22, 2 winner of race 1 22, 3 rookie 22"
    assert {row.decided_by for row in rows} == {TieRule.COUNT_BACK}


def test_count_back_makes_the_medal_table() -> None:
    """Medals as places without points, count-back alone: 26 countries, the last two share 25th.

    Source: the medal table in bokeh_sampledata, olympics2014.json, ranked by gold, silver, bronze.
    """
    data = json.loads(published("bokeh_sampledata", "_data", "olympics2014.json").read_text(encoding="utf-8"))["data"]
    medals = {each["abbr"]: each["medals"] for each in data if each["medals"]["total"]}
    lines = {
        name: [1] * won["gold"] + [2] * won["silver"] + [3] * won["bronze"] + [None] * (40 - won["total"])
        for name, won in medals.items()
    }
    rows = standing(entrants(lines), by_places(lines, PointsTable(())), COUNT_BACK_ONLY)
    by_medals = places({name: (-won["gold"], -won["silver"], -won["bronze"]) for name, won in medals.items()})
    assert places_of(rows) == by_medals
    assert [row.place for row in rows] == [*range(1, 26), 25]
    assert [row.shared for row in rows] == [False] * 24 + [True] * 2


def test_equal_scores_share_the_better_rank() -> None:
    """The first eleven published scores rank 1, 2, 3, 4, 4, 6, 7, 8, 9, 9, 11. Source: HSAUR, heptathlon."""
    scores = (7291, 6897, 6858, 6540, 6540, 6411, 6351, 6297, 6252, 6252, 6205)
    rows = standing([Entrant(entry=f"row {n}", before=Fraction(score)) for n, score in enumerate(scores)], [])
    assert [row.place for row in rows] == [1, 2, 3, 4, 4, 6, 7, 8, 9, 9, 11]
    assert [row.decided_by for row in rows if row.shared] == [TieRule.SHARED] * 4


def test_decathlon_ranks_are_those_of_their_points() -> None:
    """Published rank by published points, 13 of 13 and 28 of 28. Source: prince, decathlon.csv."""
    head, *lines = published_rows("prince", "datasets", "decathlon.csv")
    rank, points, meeting = (head.index(name) for name in ("Rank", "Points", "Competition"))
    agreeing = {}
    for name in sorted({each[meeting] for each in lines}):
        field = {f"{each[0]} {n}": each for n, each in enumerate(lines) if each[meeting] == name}
        rows = standing([Entrant(entry=who, before=Fraction(each[points])) for who, each in field.items()], [])
        agreeing[name] = sum(row.place == int(field[row.entry][rank]) for row in rows)
    assert agreeing == {"Decastar": 13, "OlympicG": 28}


def test_decathlon_ranks_come_out_of_a_whole_competition() -> None:
    """The published totals, brought into a competition and read off its standing as printed: 41 of 41 ranks.

    Source: prince, decathlon.csv.
    """
    head, *lines = published_rows("prince", "datasets", "decathlon.csv")
    rank, points, meeting = (head.index(name) for name in ("Rank", "Points", "Competition"))
    work = competition(lanes=1)
    placed: dict[str, int] = {}
    entry = next(iter(work.entries.values()))
    fields = {f"e{n}": each for n, each in enumerate(lines)}
    entries = {
        who: replace(entry, id=who, division=each[meeting], points_before=int(each[points]))
        for who, each in fields.items()
    }
    divisions = {name: Division(id=name, name=name) for name in {each[meeting] for each in lines}}
    heats = {name: replace(heat, lanes={1: "e0"}) for name, heat in work.heats.items()}
    snapshot = CompetitionBook(replace(work, divisions=divisions, entries=entries, heats=heats), []).at_last_facts()
    for name in divisions:
        placed |= {row.entry: row.place for row in division_series(snapshot, name).rows}
    assert [placed[who] for who in fields] == [int(each[rank]) for each in fields.values()]


def test_a_published_deduction_comes_off_the_total() -> None:
    """Three points a win, one a draw, eight deducted from one team: 42 of 42 published totals.

    Source: prince, premier_league.csv.
    """
    seasons, names, _, *lines = published_rows("prince", "datasets", "premier_league.csv")
    agreeing = []
    for start in range(1, len(seasons), 6):
        assert [names[start + offset] for offset in (0, 1, 5)] == ["W", "D", "Pts"]
        field = [
            Entrant(
                entry=each[0],
                before=Fraction(3 * int(each[start]) + int(each[start + 1])),
                deductions=_deducted(seasons[start], each[start + 5]),
            )
            for each in lines
        ]
        totals = {row.entry: row.total for row in standing(field, [])}
        agreeing += [totals[each[0]] == int(each[start + 5]) for each in lines]
    assert agreeing == [True] * 42


def _deducted(season: str, total: str) -> tuple[Deduction, ...]:
    """The one row with a deduction, by its published total: 40 in that season."""
    if (season, total) != ("2023-24", "40"):
        return ()
    return (Deduction(points=Fraction(8), reason="breach of the spending rules"),)


LINNERUD = (
    (5, 162, 60), (2, 110, 60), (12, 101, 101), (12, 105, 37), (13, 155, 58), (4, 101, 42), (8, 101, 38),
    (6, 125, 40), (15, 200, 40), (17, 251, 250), (17, 120, 38), (13, 210, 115), (14, 215, 105), (1, 50, 50),
    (6, 70, 31), (12, 210, 120), (4, 60, 25), (11, 230, 80), (15, 225, 73), (2, 110, 43),
)  # fmt: skip
"""Chin-ups, sit-ups and jumps of twenty members of a fitness club. Source: the Linnerud data of scikit-learn."""

LINNERUD_SUMS = (31, 38, 28, 40, 25, 44, 43, 37, 24, 3, 28, 14, 13, 51, 50, 15, 55, 19, 13, 42)
LINNERUD_OVERALL = (11, 13, 9, 14, 8, 17, 16, 12, 7, 1, 9, 4, 2, 19, 18, 5, 20, 6, 2, 15)
LINNERUD_COUNT_BACK = (11, 13, 10, 14, 8, 17, 16, 12, 7, 1, 9, 4, 3, 19, 18, 5, 20, 6, 2, 15)


@pytest.mark.parametrize(("ties", "expected"), [((), LINNERUD_OVERALL), ((TieRule.COUNT_BACK,), LINNERUD_COUNT_BACK)])
def test_three_exercises_as_three_events(ties: tuple[TieRule, ...], expected: tuple[int, ...]) -> None:
    """Places added up, fewest first, and count-back between equals: computed with SciPy, no published table."""
    names = [f"m{n}" for n in range(20)]
    events = []
    for index in range(3):
        placed = places({name: -reps[index] for name, reps in zip(names, LINNERUD, strict=True)})
        points = award(placed, LOW_POINT)
        scores = {name: Scored(place=placed[name], points=points[name]) for name in names}
        events.append(EventScores(event=f"e{index}", scores=scores))
    rows = {row.entry: row for row in standing(entrants(names), events, StandingRules(order=Order.FEWEST, ties=ties))}
    assert tuple(int(rows[name].total) for name in names) == LINNERUD_SUMS
    assert tuple(rows[name].place for name in names) == expected


def test_the_default_tie_rules() -> None:
    """More firsts, then more seconds, then the last event, then shared. Source: common practice, no source.

    All have 150: F has a first; S and T have a second and a fifth, T the second in the last event; U and V have a
    third and a fourth each, in the same events.
    """
    lines = {"F": (1, 6, 11), "S": (2, 11, 5), "T": (5, 11, 2), "U": (3, 4, 11), "V": (3, 4, 11)}
    rows = standing(entrants(lines), by_places(lines))
    assert line(rows) == "1 F 150, 2 T 150, 3 S 150, 4 U 150, 4 V 150"
    assert [row.decided_by for row in rows] == [
        TieRule.COUNT_BACK,
        TieRule.LAST_EVENT,
        TieRule.LAST_EVENT,
        TieRule.SHARED,
        TieRule.SHARED,
    ]
    assert deciding_rule(rows[0], rows[4]) is TieRule.COUNT_BACK
    assert deciding_rule(rows[3], rows[4]) is TieRule.SHARED


def test_points_decide_before_any_tie_rule() -> None:
    """An entry alone on its points was placed by them, and no rule is named."""
    lines = {"A": (1, 3), "B": (2, 1), "C": (3, 2)}
    rows = standing(entrants(lines), by_places(lines))
    assert line(rows) == "1 B 190, 2 A 180, 3 C 170"
    assert [row.decided_by for row in rows] == [None] * 3
    assert deciding_rule(rows[0], rows[1]) is None


def test_a_shared_first_place_is_a_first_place() -> None:
    """Count-back counts the better place that is shared."""
    lines = {"A": (1, 3), "B": (1, 3), "C": (3, 1), "D": (4, 2)}
    rows = standing(entrants(lines, D=20), by_places(lines), COUNT_BACK_ONLY)
    assert line(rows) == "1 A 180, 1 B 180, 1 C 180, 4 D 180"


def test_a_place_without_a_result_is_no_place_in_count_back() -> None:
    """Second of two because the other withdrew is not a second place; in the last event it still comes last."""
    nothing = Scored(place=2, points=Fraction(0), has_result=False)
    events = [EventScores(event="e1", scores={"A": nothing}), *by_places({"A": (None, 5), "B": (None, 5)})[1:]]
    events[0] = EventScores(event="e1", scores={"A": nothing, "B": Scored(place=9, points=Fraction(0))})
    rows = standing(entrants("AB"), events)
    assert line(rows) == "1 B 60, 2 A 60"
    assert rows[0].decided_by is TieRule.COUNT_BACK
    last = standing(entrants("AB"), events[::-1], StandingRules(ties=(TieRule.LAST_EVENT,)))
    assert line(last) == "1 A 60, 2 B 60"


@pytest.mark.parametrize(
    ("rule", "expected"),
    [(TieRule.COUNT_BACK, "1 B 70, 2 A 70"), (TieRule.COUNT_BACK_SCORING, "1 A 70, 1 B 70")],
)
def test_count_back_may_look_at_scoring_places_only(rule: TieRule, expected: str) -> None:
    """Both were seventh and eighth; A was twelfth and B eleventh, where the table is worth nothing."""
    lines = {"A": (7, 8, 12), "B": (8, 7, 11)}
    assert line(standing(entrants(lines), by_places(lines), StandingRules(ties=(rule,)))) == expected


@pytest.mark.parametrize("rule", [TieRule.COUNT_BACK, TieRule.COUNT_BACK_ALL, TieRule.COUNT_BACK_SCORING])
def test_count_back_passes_over_an_event_that_is_left_out_of_it(rule: TieRule) -> None:
    """A's first place was won in a sprint that breaks no ties, so a fourth place is the best that is looked at."""
    sprint, other = by_places({"A": (1, 5), "B": (2, 4)})
    apart = {name: replace(score, in_count_back=False) for name, score in sprint.scores.items()}
    rules = StandingRules(ties=(rule,))
    assert line(standing(entrants("AB"), [sprint, other], rules)) == "1 A 160, 2 B 160"
    assert line(standing(entrants("AB"), [replace(sprint, scores=apart), other], rules)) == "1 B 160, 2 A 160"


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (TieRule.COUNT_BACK, "1 A 190, 1 B 190"),
        (TieRule.COUNT_BACK_ALL, "1 A 190, 2 B 190"),
        (TieRule.COUNT_BACK_SCORING, "1 A 190, 1 B 190"),
        (TieRule.BEST_SCORES, "1 A 190, 1 B 190"),
        (TieRule.LAST_EVENT, "1 B 190, 2 A 190"),
        (TieRule.LATEST_EVENTS, "1 B 190, 2 A 190"),
        (TieRule.SHARED, "1 A 190, 1 B 190"),
    ],
)
def test_which_rules_look_at_dropped_events(rule: TieRule, expected: str) -> None:
    """A counts 1 and 2 and dropped a 4; B counts 2 and 1 and dropped a 6, but ended before A in the last event."""
    lines = {"A": (1, 4, 2), "B": (6, 2, 1)}
    assert line(standing(entrants(lines), by_places(lines), StandingRules(drop_worst=1, ties=(rule,)))) == expected


@pytest.mark.parametrize(("from_events", "expected"), [(3, "1 A 150, 2 B 120"), (4, "1 B 170, 2 A 160")])
def test_dropping_starts_at_its_number_of_events(from_events: int, expected: str) -> None:
    """An event in which both earn the same turns the order round when dropping begins with it.

    This is the rulebook's doing: A's bad event stops counting and B has none.
    """
    lines = {"A": (1, 10, 6), "B": (5, 5, 6)}
    rules = StandingRules(drop_worst=1, drop_from=from_events)
    assert line(standing(entrants(lines), by_places(lines)[:2], rules)) == "1 B 120, 2 A 110"
    assert line(standing(entrants(lines), by_places(lines), rules)) == expected


def test_one_event_always_counts() -> None:
    """Dropping more events than there are leaves the best one."""
    lines = {"A": (1, 4), "B": (2, 2)}
    assert line(standing(entrants(lines), by_places(lines), StandingRules(drop_worst=5))) == "1 A 100, 2 B 90"
    assert line(standing(entrants(lines), by_places(lines)[:1], StandingRules(drop_worst=1))) == "1 A 100, 2 B 90"
    assert line(standing(entrants(lines), [], StandingRules(drop_worst=1))) == "1 A 0, 1 B 0"


def test_what_must_count_is_never_dropped() -> None:
    """A score that must count stays in the total, and the next worst one is dropped."""
    (first, second, third) = by_places({"A": (2, 1, 3), "B": (3, 2, 4)})
    banned = Scored(place=3, points=Fraction(0), has_result=False, must_count=True)
    events = [first, EventScores(event="e2", scores={**second.scores, "A": banned}), third]
    rows = standing(entrants("AB"), events, StandingRules(drop_worst=1))
    assert line(rows) == "1 B 170, 2 A 90"
    assert [cell.dropped for cell in rows[1].cells] == [False, False, True]


def test_finishing_lower_never_helps_by_what_is_dropped() -> None:
    """Of equal worst points the worse place is dropped, so that count-back cannot reward falling back.

    Second and third are worth the same here: with the earlier one dropped instead, falling from third to fourth in the
    second event would turn a counted third into a counted second.
    """
    table = PointsTable((10, 5, 5))
    for fallen in (3, 4):
        lines = {"A": (2, fallen), "B": (2, 2)}
        rows = standing(
            entrants(lines), by_places(lines, table), StandingRules(drop_worst=1, ties=(TieRule.COUNT_BACK,))
        )
        assert line(rows) == "1 A 5, 1 B 5"


def test_of_equal_points_the_one_without_a_result_is_dropped() -> None:
    """A result worth nothing is kept for count-back before a withdrawal worth nothing, whatever their places."""
    lost = EventScores(event="e2", scores={"A": Scored(place=5, points=Fraction(0), has_result=False)})
    rows = standing(entrants("A"), [*by_places({"A": (12,)}), lost], StandingRules(drop_worst=1))
    assert [cell.dropped for cell in rows[0].cells] == [False, True]


def test_running_and_final_are_the_same_function() -> None:
    """While an event runs, an entry without a score in it counts as one without a result, and keeps its line."""
    lines = {"A": (1, None), "B": (2, 1), "C": (3, 2)}
    rows = standing(entrants(lines), by_places(lines))
    assert line(rows) == "1 B 190, 2 C 170, 3 A 100"
    waiting = rows[2].cells[1]
    assert (waiting.place, str(waiting.points), waiting.has_result) == (None, "0", False)
    assert line(standing(entrants(lines), by_places({**lines, "A": (1, 3)}))) == "1 B 190, 2 A 180, 3 C 170"


def test_a_missing_score_is_no_gain_where_the_fewest_points_win() -> None:
    """With places added up, an entry that has not been on the floor yet counts as one more than the field.

    Source: Racing Rules of Sailing, A4.2.
    """
    lines = {"A": (1, None), "B": (2, 1), "C": (3, 2)}
    rows = standing(entrants(lines), by_places(lines, LOW_POINT), StandingRules(order=Order.FEWEST))
    assert line(rows) == "1 B 3, 2 A 5, 3 C 5"


def test_a_missing_score_counts_by_the_field_after_the_cut() -> None:
    """After a cut one more than the field is one more than its survivors."""
    first, second = by_places({"A": (1,), "B": (2, 1), "C": (3,)}, LOW_POINT)
    field = [Entrant(entry="A", survived=1), Entrant(entry="B", survived=1), Entrant(entry="C")]
    late = EventScores(event="e2", scores=second.scores, stage=1)
    assert line(standing(field, [first, late], StandingRules(order=Order.FEWEST))) == "1 B 3, 2 A 4, 3 C 3"


def test_who_has_not_had_the_last_event_comes_last_by_it() -> None:
    """By the last event, an entry with a place in it stands before one without."""
    lines = {"A": (1, None), "B": (2, 10)}
    assert (
        line(standing(entrants("AB"), by_places(lines), StandingRules(ties=(TieRule.LAST_EVENT,))))
        == "1 B 100, 2 A 100"
    )


def test_an_event_nobody_has_scored_in_is_not_there() -> None:
    """An event without a score is neither counted nor shown, and does not start the dropping."""
    lines = {"A": (1, 4), "B": (2, 2)}
    events = [*by_places(lines), EventScores(event="e3", scores={})]
    rules = StandingRules(drop_worst=1, drop_from=3)
    assert standing(entrants(lines), events, rules) == standing(entrants(lines), events[:2], rules)


def test_what_an_entry_brings_counts_and_is_never_dropped() -> None:
    """Points from before the first event are in the total from the start."""
    lines = {"A": (2, 2), "B": (1, 1)}
    rows = standing(entrants(lines, A=25), by_places(lines), StandingRules(drop_worst=1))
    assert line(rows) == "1 A 115, 2 B 100"
    assert [str(row.before) for row in rows] == ["25", "0"]


@pytest.mark.parametrize(("order", "total"), [(Order.MOST, 85), (Order.FEWEST, 16)])
def test_a_deduction_worsens_the_total(order: Order, total: int) -> None:
    """Deducted points go off the total where the most win and onto it where the fewest do, the reason kept."""
    given = (Deduction(points=Fraction(10), reason="late at the briefing"), Deduction(points=Fraction(5), reason="kit"))
    table = TEN_STEP if order is Order.MOST else LOW_POINT
    field = [Entrant(entry="A", deductions=given), Entrant(entry="B")]
    rows = standing(field, by_places({"A": (1,), "B": (2,)}, table), StandingRules(order=order))
    assert line(rows[1:]) == f"2 A {total}"
    assert rows[1].deductions == given


def test_who_survived_a_cut_stands_before_who_did_not() -> None:
    """After a cut points do not bring anyone back, and later events are the survivors' alone."""
    first, second = by_places({"A": (3, 2), "B": (2, 1), "C": (1,)})
    field = [Entrant(entry="A", survived=1), Entrant(entry="B", survived=1), Entrant(entry="C", before=Fraction(500))]
    late = EventScores(event="e2", scores=second.scores, stage=1)
    rows = standing(field, [first, late])
    assert line(rows) == "1 B 190, 2 A 170, 3 C 600"
    assert [len(row.cells) for row in rows] == [2, 2, 1]


def test_who_shares_a_place_stays_in_the_order_given() -> None:
    """Rows of one place keep the order of the entrants, so that every machine prints the same."""
    lines = {"Z": (1,), "A": (1,), "M": (1,)}
    assert line(standing(entrants("MZA"), by_places(lines))) == "1 M 100, 1 Z 100, 1 A 100"


def test_strangers_and_doubles_are_refused() -> None:
    """Scores of someone unknown, an entry twice and an event twice are errors that name them."""
    events = by_places({"A": (1,), "B": (2,)})
    with pytest.raises(ValueError, match="event e1: found scores of B, expected entrants only"):
        standing(entrants("A"), events)
    with pytest.raises(ValueError, match="found A twice, expected each entry and each event once"):
        standing(entrants("AA"), [])
    with pytest.raises(ValueError, match="found e1 twice"):
        standing(entrants("AB"), events * 2)


def test_rules_that_make_no_sense_are_refused() -> None:
    """A negative number of drops and a rule after the end of the rules are errors."""
    with pytest.raises(ValueError, match="found drop -1 from 0 events on"):
        StandingRules(drop_worst=-1)
    with pytest.raises(ValueError, match="found tie rules shared, last_event, expected shared at the end only"):
        StandingRules(ties=(TieRule.SHARED, TieRule.LAST_EVENT))


def test_a_floor_keeps_points_above_nothing_for_a_result_only() -> None:
    """With a least value every result earns it, and an entry without one still earns nothing."""
    table = FlooredTable(table=PointsTable((10,)), least=1)
    assert award({"A": 1, "B": 2, "C": 3}, table, no_result={"C": 0}) == {"A": 10, "B": 1, "C": 0}
