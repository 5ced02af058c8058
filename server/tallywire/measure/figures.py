"""What a measure found: figures with their spread, in tables, with the goals they are held against."""

from __future__ import annotations

import statistics
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """A value that was measured several times; the unit stands in its column's heading or in its goal."""

    values: tuple[float, ...]

    @classmethod
    def of(cls, values: Iterable[float]) -> Figure:
        """Give the figure of these values, one at least."""
        return cls(tuple(values))

    @property
    def middle(self) -> float:
        """The median."""
        return statistics.median(self.values)

    @property
    def least(self) -> float:
        """The smallest value."""
        return min(self.values)

    @property
    def most(self) -> float:
        """The largest value."""
        return max(self.values)

    def over(self, other: Figure) -> Figure:
        """Give the ratios to another figure that was measured in the same turns."""
        return Figure.of(mine / its for mine, its in zip(self.values, other.values, strict=True))

    def __str__(self) -> str:
        """Give the median, and the smallest and largest value where there are several."""
        if len(self.values) == 1:
            return rounded(self.middle)
        return f"{rounded(self.middle)} ({rounded(self.least)}–{rounded(self.most)})"


Cell = str | int | Figure
"""What stands in a table: a word, a number that was given, or a figure that was measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """A bound that a figure is held against: the median may be at most `bound`, or has to be at least that."""

    says: str
    found: Figure
    bound: float
    unit: str = ""
    at_least: bool = False

    @property
    def is_met(self) -> bool:
        """True when the median keeps the bound."""
        return self.found.middle >= self.bound if self.at_least else self.found.middle <= self.bound

    def __str__(self) -> str:
        """Give the goal, whether it is met, and by what."""
        unit = f" {self.unit}" if self.unit else ""
        wanted = f"at {'least' if self.at_least else 'most'} {self.bound:g}{unit}"
        return f"{self.says}: {self.found}, goal {wanted}, {'met' if self.is_met else 'missed'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureTable:
    """Rows of a measure under their headings, what they are held against, and what has to be known to read them."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    goals: tuple[Goal, ...] = ()
    notes: tuple[str, ...] = ()
    picture: str = ""
    """The same as SVG, where a picture says it better."""


def rounded(value: float) -> str:
    """Give a value with three digits, or whole above a hundred."""
    if abs(value) >= 100:
        return f"{value:,.0f}"
    return f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"
