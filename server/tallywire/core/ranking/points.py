"""What a place is worth: points tables, and how those who share a place share its points. All arithmetic is exact."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import count, islice
from typing import Protocol

from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.places import K


class TiePolicy(StrEnum):
    """What those who share a place in an event earn.

    SHARE_BETTER: each earns the points of the better place; the next place is skipped (common practice, no source).
    MEAN: each earns the mean of the points of the places they occupy (Racing Rules of Sailing, A7).
    """

    SHARE_BETTER = "share_better"
    MEAN = "mean"


class Table(Protocol):
    """A points table of any kind."""

    def points(self, place: int, field: int) -> Fraction:
        """Points for a place, counted from 1, in a field of so many entries. Raises ValueError if it has none."""
        ...


@dataclass(frozen=True, slots=True)
class PointsTable:
    """Points by list, first place first. A place past the end of the list is worth nothing."""

    values: tuple[int | Fraction, ...]

    def points(self, place: int, field: int = 0) -> Fraction:  # noqa: ARG002 - a list is the same for every field
        """Points for a place, whatever the field."""
        return Fraction(self.values[place - 1]) if 1 <= place <= len(self.values) else Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTable:
    """Points that go down by a fixed step from the first place on, and stop at zero: 100, 90, 80 …"""

    first: int | Fraction
    step: int | Fraction

    def points(self, place: int, field: int) -> Fraction:  # noqa: ARG002 - steps are the same for every field
        """Points for a place, whatever the field."""
        return max(Fraction(0), Fraction(self.first) - Fraction(self.step) * (place - 1))


@dataclass(frozen=True, slots=True)
class FormulaTable:
    """Points by a formula in `place` and `field`. `FormulaTable(Formula("place"))` is low-point scoring."""

    formula: Formula

    def points(self, place: int, field: int) -> Fraction:
        """Points for a place. Raises ValueError where the formula has no value, such as a division by zero."""
        return self.formula.value(place=place, field=field)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaledTable:
    """A table made for `full_field` entries, stretched over a smaller field.

    First place keeps the first value and last place gets the value of place `full_field`; the places between are
    spread evenly over the table, on the straight line between its neighbouring values. With n entries, place p reads
    the table at 1 + (p - 1)(full_field - 1)/(n - 1). A single entry is first. A field of `full_field` or more takes the
    table as it is.
    """

    table: Table
    full_field: int

    def __post_init__(self) -> None:
        if self.full_field < 1:
            raise ValueError(f"found a full field of {self.full_field}, expected at least 1")

    def points(self, place: int, field: int) -> Fraction:
        """Points for a place, from 1 to `field` when the field is small."""
        if field >= self.full_field:
            return self.table.points(place, field)
        steps = Fraction((place - 1) * (self.full_field - 1), max(field - 1, 1))
        above, part = steps // 1, steps % 1
        worth = self.table.points(above + 1, self.full_field)
        return worth + part * (self.table.points(above + 2, self.full_field) - worth) if part else worth


@dataclass(frozen=True, slots=True, kw_only=True)
class FlooredTable:
    """A table that does not fall below `least`, not even past its end."""

    table: Table
    least: int | Fraction

    def points(self, place: int, field: int) -> Fraction:
        """Points for a place, at least `least`."""
        return max(Fraction(self.least), self.table.points(place, field))


def added_up(points: Sequence[Fraction]) -> Fraction:
    """Add points up, exactly. Nearly all are whole, and adding those is ten times as quick."""
    if all(each.denominator == 1 for each in points):
        return Fraction(sum(each.numerator for each in points))
    return sum(points, Fraction(0))


def worths(table: Table, field: int) -> tuple[Fraction, ...]:
    """Give what every place of a field is worth, first place first. Raises ValueError where the table has no value."""
    return tuple(table.points(place, field) for place in range(1, field + 1))


def award(  # noqa: PLR0913
    places: Mapping[K, int],
    table: Table,
    *,
    ties: TiePolicy = TiePolicy.SHARE_BETTER,
    field: int | None = None,
    no_result: Mapping[K, int | Fraction] | None = None,
    vacant: Collection[int] = (),
) -> dict[K, Fraction]:
    """Give everyone's points for their places in an event, as `ranking.event_places` gives them.

    `field` is how many entries the event has, by default as many as there are places. `no_result` holds the points of
    those without a result, zero in most rulebooks, whatever their place; those who share a place take up none that is
    `vacant`. Raises ValueError for a place outside the field.
    """
    fixed = no_result or {}
    size_of_field = len(places) if field is None else field
    sizes = Counter(place for each, place in places.items() if each not in fixed)
    worth = {place: _shared(_taken(place, size, vacant), table, ties, size_of_field) for place, size in sizes.items()}
    return {each: Fraction(fixed[each]) if each in fixed else worth[place] for each, place in places.items()}


@lru_cache(maxsize=1024)
def plain(points: Fraction | int) -> float:
    """Give exact points as a number for JSON, as announced: whole, or with at most two decimals."""
    value = float(points_text(Fraction(points)))
    return int(value) if value.is_integer() else value


def points_text(points: Fraction) -> str:
    """Write points as announced: whole numbers plain, others with at most two decimals, halves away from zero.

    Places and ties are decided on the exact value, never on this text.
    """
    hundredths = int(abs(points) * 100 + Fraction(1, 2))
    whole, part = divmod(hundredths, 100)
    sign = "-" if points < 0 and hundredths else ""
    return f"{sign}{whole}" + (f".{part:02d}".rstrip("0") if part else "")


def _taken(place: int, size: int, vacant: Collection[int]) -> Sequence[int]:
    """The places that those who share one take up together."""
    return list(islice((each for each in count(place) if each not in vacant), size))


def _shared(taken: Sequence[int], table: Table, ties: TiePolicy, field: int) -> Fraction:
    """The points of each of those who share a place, given the places they take up together."""
    if not 1 <= taken[0] <= taken[-1] <= field:
        raise ValueError(f"found places {taken[0]} to {taken[-1]}, expected places from 1 to the field of {field}")
    counted = taken if ties is TiePolicy.MEAN else taken[:1]
    return sum((table.points(place, field) for place in counted), Fraction(0)) / len(counted)
