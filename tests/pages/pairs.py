"""Few cases that still hold every pair of values of any two factors together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, product
from typing import Any

Case = dict[str, Any]


def all_cases(factors: Mapping[str, Sequence[Any]]) -> list[Case]:
    """Give every combination."""
    return [dict(zip(factors, values, strict=True)) for values in product(*factors.values())]


def pairwise(factors: Mapping[str, Sequence[Any]]) -> list[Case]:
    """Give cases, always the same ones, so that every pair is in at least one; greedy, so few but not the fewest."""
    cases = all_cases(factors)
    left = {pair for case in cases for pair in _pairs(case)}
    chosen = []
    while left:
        best = max(cases, key=lambda case: len(left & _pairs(case)))
        left -= _pairs(best)
        chosen.append(best)
    return chosen


def _pairs(case: Case) -> set[tuple[tuple[str, Any], ...]]:
    return set(combinations(case.items(), 2))
