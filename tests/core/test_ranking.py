"""Places, points and the text of times."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.model.timetext import clock_text, parse_clock
from tallywire.core.ranking.places import places
from tallywire.core.ranking.points import PointsTable


@pytest.mark.slow
@given(st.dictionaries(st.integers(), st.integers(-5, 5)))
def test_places_are_standard_competition_ranking(keys: dict[int, int]) -> None:
    """Places equal `scipy.stats.rankdata(method="min")`. Source: SciPy."""
    from scipy.stats import rankdata  # takes a second to import

    expected = rankdata(list(keys.values()), method="min")
    assert list(places(keys).values()) == [int(rank) for rank in expected]


def test_places_of_the_worked_example() -> None:
    """Of 0, 2, 3, 2 the places are 1, 2, 4, 2. Source: the example of `scipy.stats.rankdata`."""
    assert places(dict(enumerate([0, 2, 3, 2]))) == {0: 1, 1: 2, 2: 4, 3: 2}


def test_ten_point_step() -> None:
    """On a ten-point step third against sixth is a 30-point swing. Source: common practice, no source."""
    table = PointsTable(tuple(range(100, 0, -10)))
    assert table.points(3) - table.points(6) == 30
    assert [table.points(place) for place in (1, 10, 11, 0)] == [100, 10, 0, 0]


@pytest.mark.parametrize(
    ("text", "ms"), [("0:00.000", 0), ("11:42.318", 702_318), ("59:59.999", 3_599_999), ("1:00:00.001", 3_600_001)]
)
def test_times_are_written_as_announced(text: str, ms: int) -> None:
    """Times are written m:ss.mmm, with hours from one hour on, and read back the same."""
    assert clock_text(ms) == text
    assert parse_clock(text) == ms


@pytest.mark.parametrize("text", ["", "15", "1:60", "15:0", "x:00", "1:99:00", "-1:00", "1:00.1234", "1:00\n", "٣:٠٠"])
def test_what_is_not_a_time_is_refused(text: str) -> None:
    """Anything else is a ValueError that says what was expected."""
    with pytest.raises(ValueError, match="expected"):
        parse_clock(text)


@given(st.integers(0, 10**8))
def test_times_survive_the_round_trip(ms: int) -> None:
    """What is written can be read back to the millisecond."""
    assert parse_clock(clock_text(ms)) == ms
