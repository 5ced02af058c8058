"""What places are worth: tables, formulas, and who shares what."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.published import published_rows
from core.samples import workout
from tallywire.core.formats.base import Limits, Tally
from tallywire.core.model.workout import Plan, Station
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.places import event_places, field_with, places
from tallywire.core.ranking.points import (
    FlooredTable,
    FormulaTable,
    PointsTable,
    ScaledTable,
    StepTable,
    Table,
    TiePolicy,
    award,
    points_text,
    worths,
)
from tallywire.formats.for_time.counting import ForTimeCounting

TEN_STEP = StepTable(first=100, step=10)
LOW_POINT = FormulaTable(Formula("place"))

results = st.dictionaries(st.integers(0, 30), st.integers(0, 5), min_size=1)
tables: st.SearchStrategy[Table] = st.one_of(
    st.lists(st.integers(0, 200), min_size=1, max_size=12).map(lambda values: PointsTable(tuple(values))),
    st.builds(StepTable, first=st.integers(0, 100), step=st.fractions(0, 20, max_denominator=4)),
    st.sampled_from(["place", "field + 1 - place", "100 / place", "max(0, 50 - 3 * place)"]).map(
        lambda text: FormulaTable(Formula(text))
    ),
    st.builds(ScaledTable, table=st.just(TEN_STEP), full_field=st.integers(1, 20)),
)


@given(results, tables)
def test_sharing_the_better_place_earns_what_the_table_says_there(keys: dict[int, int], table: Table) -> None:
    """Everyone earns the table's points at their own place, whatever the ties."""
    placed = places(keys)
    assert award(placed, table) == {each: table.points(place, len(keys)) for each, place in placed.items()}


@pytest.mark.parametrize(
    ("vacant", "ties", "placed", "earned"),
    [
        ((2,), TiePolicy.SHARE_BETTER, [1, 3, 3, 5], [25, 15, 15, 0]),
        ((2,), TiePolicy.MEAN, [1, 3, 3, 5], [25, Fraction(27, 2), Fraction(27, 2), 0]),
        ((3,), TiePolicy.MEAN, [1, 2, 2, 5], [25, 15, 15, 0]),
        ((3, 1), TiePolicy.SHARE_BETTER, [2, 4, 4, 6], [18, 12, 12, 0]),
    ],
)
def test_nobody_is_given_a_vacant_place(
    vacant: tuple[int, ...], ties: TiePolicy, placed: list[int], earned: list[int]
) -> None:
    """Of A, B and C level, and D disqualified, those behind a vacant place go on with the next one (docs/scoring.md);
    the ones who share a place take up none that is vacant, here second and fourth.
    """
    found = event_places([{"A": 1, "B": 2, "C": 2}], no_result=["D"], vacant=vacant)
    assert list(found.values()) == placed
    table = PointsTable((25, 18, 15, 12))
    points = award(
        found, table, ties=ties, field=field_with(4, ranked=3, vacant=vacant), no_result={"D": 0}, vacant=vacant
    )
    assert list(points.values()) == earned


def test_a_field_reaches_to_the_last_place_that_is_given() -> None:
    """With everybody placed and second vacant, the last of four is fifth: the field is five from then on."""
    assert [field_with(4, ranked=ranked, vacant=(2,)) for ranked in (0, 1, 3, 4)] == [4, 4, 4, 5]
    assert field_with(4, ranked=4, vacant=(9,)) == 4


@given(results, tables)
def test_the_mean_hands_out_what_the_places_are_worth(keys: dict[int, int], table: Table) -> None:
    """Under the mean the points handed out add up to the whole table, and those who tie earn the same."""
    earned = award(places(keys), table, ties=TiePolicy.MEAN)
    assert sum(earned.values()) == sum(worths(table, len(keys)))
    assert all(
        earned[one] == earned[other]
        for one, other in pairwise(sorted(keys, key=keys.__getitem__))
        if keys[one] == keys[other]
    )


@pytest.mark.slow
@given(results)
def test_every_tie_policy_ranks_as_published_software_does(keys: dict[int, int]) -> None:
    """Where a place is worth itself, sharing the better is "min" and the mean is "average" of SciPy's `rankdata`."""
    from scipy.stats import rankdata  # takes a second to import

    placed, values = places(keys), list(keys.values())
    assert list(award(placed, LOW_POINT).values()) == list(rankdata(values, method="min"))
    mean = award(placed, LOW_POINT, ties=TiePolicy.MEAN)
    assert list(mean.values()) == list(rankdata(values, method="average"))


@pytest.mark.parametrize(
    ("policy", "expected"),
    [(TiePolicy.SHARE_BETTER, (100, 90, 90, 70)), (TiePolicy.MEAN, (100, 85, 85, 70))],
)
def test_two_share_second_place(policy: TiePolicy, expected: tuple[int, ...]) -> None:
    """Places 1, 2, 2, 4 on a ten-point step. Sources: common practice, no source; Racing Rules of Sailing, A7."""
    placed = places({"a": 1, "b": 2, "c": 2, "d": 3})
    assert placed == {"a": 1, "b": 2, "c": 2, "d": 4}
    assert tuple(award(placed, TEN_STEP, ties=policy).values()) == expected


def test_three_tied_for_fourth_at_sea() -> None:
    """Three boats tied for fourth get (4 + 5 + 6) / 3 = 5 points each. Source: Racing Rules of Sailing, A7."""
    earned = award(places(dict(zip("abcdefg", (1, 2, 3, 4, 4, 4, 5), strict=True))), LOW_POINT, ties=TiePolicy.MEAN)
    assert [int(points) for points in earned.values()] == [1, 2, 3, 5, 5, 5, 7]


def test_third_against_sixth_is_thirty_points() -> None:
    """With the last ten on a fixed ten-point step third against sixth is 30. Source: common practice, no source."""
    assert worths(TEN_STEP, 10) == tuple(range(100, 0, -10))
    assert TEN_STEP.points(3, 10) - TEN_STEP.points(6, 10) == 30


def test_five_up_and_four_places_behind_is_35_down() -> None:
    """Five points up, four places behind the chaser: 35 down, wherever it is. Source: common practice, no source."""
    for place in range(1, 7):
        earned = award({"chaser": place, "leader": place + 4}, TEN_STEP, field=10)
        assert 5 + earned["leader"] - earned["chaser"] == -35


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        (PointsTable((100, 95, Fraction("90.5"))), "100 95 90.5 0 0"),
        (StepTable(first=10, step=Fraction("2.5")), "10 7.5 5 2.5 0"),
        (StepTable(first=20, step=10), "20 10 0 0 0"),
        (FlooredTable(table=StepTable(first=20, step=10), least=5), "20 10 5 5 5"),
        (FlooredTable(table=PointsTable((50, 30)), least=1), "50 30 1 1 1"),
        (FormulaTable(Formula("100 - 5 * (place - 1)")), "100 95 90 85 80"),
        (FormulaTable(Formula("round(100 * (field - place) / (field - 1))")), "100 75 50 25 0"),
        (FormulaTable(Formula("100 * 0.9 ** (place - 1)")), "100 90 81 72.9 65.61"),
        (ScaledTable(table=TEN_STEP, full_field=9), "100 80 60 40 20"),
        (ScaledTable(table=TEN_STEP, full_field=10), "100 77.5 55 32.5 10"),
        (ScaledTable(table=TEN_STEP, full_field=3), "100 90 80 70 60"),
        (ScaledTable(table=FormulaTable(Formula("field - place")), full_field=9), "8 6 4 2 0"),
        (FlooredTable(table=ScaledTable(table=TEN_STEP, full_field=10), least=50), "100 77.5 55 50 50"),
    ],
)
def test_what_the_places_of_a_field_of_five_are_worth(table: Table, expected: str) -> None:
    """Every kind of table on a field of five, worked out by hand."""
    assert " ".join(points_text(points) for points in worths(table, 5)) == expected


@given(st.integers(2, 40), st.integers(1, 40))
def test_a_scaled_table_keeps_its_ends_and_its_order(full: int, field: int) -> None:
    """First place keeps the first value, last place of a small field gets the last one, and nothing rises between."""
    table = PointsTable(tuple(range(500, 500 - 11 * full, -11)))
    found = worths(ScaledTable(table=table, full_field=full), field)
    assert found[0] == 500
    assert field == 1 or found[-1] == table.points(max(full, field))
    assert all(better >= worse for better, worse in pairwise(found))


def test_no_result_earns_nothing_and_takes_no_place() -> None:
    """Those without a result share the place after all who have one, and earn what the rules give without a result."""
    placed = event_places([{"a": 3, "b": 5}, {"c": 3, "d": 0}], no_result=["d", "e"])
    assert placed == {"a": 1, "c": 1, "b": 3, "d": 4, "e": 4}
    assert award(placed, TEN_STEP, no_result={"d": 0, "e": 0}) == {"a": 100, "c": 100, "b": 80, "d": 0, "e": 0}
    earned = award(placed, LOW_POINT, ties=TiePolicy.MEAN, no_result={"d": 6, "e": 6})
    assert earned == {"a": Fraction(3, 2), "c": Fraction(3, 2), "b": 3, "d": 6, "e": 6}


def test_heats_do_not_matter_to_event_places() -> None:
    """Places over heats equal the places of all keys together; nobody may stand in two heats."""
    keys = {f"e{n}": n * 7 % 5 for n in range(9)}
    heats = [{each: key for each, key in keys.items() if int(each[1:]) % 3 == heat} for heat in range(3)]
    assert event_places(heats) == places(keys)
    with pytest.raises(ValueError, match="found e0, e3 in two heats, expected one heat an entry"):
        event_places([heats[0], {"e0": 1, "e3": 2, "e9": 3}])


def test_places_never_come_from_rounded_times() -> None:
    """Medals equal the places by the displayed time in only 15 of 28 years; heats with those times give all 28.

    The thousandths that no page shows part those who share a displayed time, as the judges of the photograph did. The
    program prints the published time of each and its medal's place. Source: bokeh_sampledata, sprint.csv.
    """
    years: dict[str, dict[tuple[str, str], str]] = {}
    for name, _country, medal, time, year in published_rows("bokeh_sampledata", "_data", "sprint.csv")[1:]:
        years.setdefault(year, {})[name, medal] = time
    rank = {"GOLD": 1, "SILVER": 2, "BRONZE": 3}
    agree = [
        all(
            rank[medal] == place
            for (_, medal), place in places({who: float(time) for who, time in row.items()}).items()
        )
        for row in years.values()
    ]
    assert Counter(agree) == {True: 15, False: 13}
    dash = workout(rounds=((Station(movement="dash", amount=1),),))
    counting, plan = ForTimeCounting(), Plan(replace(dash, decimals=2), laps=1)
    limits = Limits(until_ms=900_000, over=False, started=True)
    for row in years.values():
        tallies = {who: Tally(done=1, reached_ms=round(1000 * float(time)) + rank[who[1]]) for who, time in row.items()}
        found = {who: counting.outcome(plan, tally, limits) for who, tally in tallies.items()}
        assert {who: each.result for who, each in found.items()} == {
            who: f"0:{float(time):05.2f}" for who, time in row.items()
        }
        place_of = places({who: each.key for who, each in found.items()})
        assert place_of == {who: rank[who[1]] for who in row}


@pytest.mark.parametrize("place", [0, 4])
def test_a_place_outside_the_field_is_refused(place: int) -> None:
    """A place that the field does not have is an error and not a zero."""
    with pytest.raises(ValueError, match=f"found places {place} to {place}, expected places from 1 to the field of 3"):
        award({"a": place}, TEN_STEP, field=3)


def test_a_tie_cannot_reach_past_the_field() -> None:
    """Three who share second place do not fit a field of three."""
    with pytest.raises(ValueError, match="found places 2 to 4"):
        award({"a": 2, "b": 2, "c": 2}, TEN_STEP, field=3)


def test_a_full_field_has_someone_in_it() -> None:
    """A table cannot be made for a field of none."""
    with pytest.raises(ValueError, match="found a full field of 0, expected at least 1"):
        ScaledTable(table=TEN_STEP, full_field=0)


@pytest.mark.parametrize(
    ("points", "text"),
    [
        (Fraction(90), "90"),
        (Fraction(0), "0"),
        (Fraction(5, 2), "2.5"),
        (Fraction(200, 3), "66.67"),
        (Fraction(1, 200), "0.01"),
        (Fraction(-17, 2), "-8.5"),
        (Fraction(-1, 1000), "0"),
        (Fraction(1999, 1000), "2"),
        (Fraction(1005, 100), "10.05"),
    ],
)
def test_points_are_written_as_announced(points: Fraction, text: str) -> None:
    """Whole points are plain, others have two decimals at most, halves go away from zero."""
    assert points_text(points) == text
