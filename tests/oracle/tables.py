"""What a place is worth, in exact fractions."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Any


def floor_of(value: Fraction) -> Fraction:
    """Give the whole number below."""
    return Fraction(math.floor(value))


def ceil_of(value: Fraction) -> Fraction:
    """Give the whole number above."""
    return Fraction(math.ceil(value))


def round_of(value: Fraction) -> Fraction:
    """Give the nearest whole number, halves up."""
    return Fraction(math.floor(value + Fraction(1, 2)))


def formula_value(formula: str, place: int, field: int) -> Fraction:
    """Work out a formula with every number a fraction."""
    exact = re.sub(r"\d+(\.\d+)?", lambda number: f"F('{number.group()}')", formula)
    names = {"F": Fraction, "place": Fraction(place), "field": Fraction(field), "min": min, "max": max}
    names |= {"floor": floor_of, "ceil": ceil_of, "round": round_of}
    return Fraction(eval(exact, {"__builtins__": {}}, names))


def bare_value(table: dict[str, Any], place: int, field: int) -> Fraction:
    """Give what a place is worth before a small field and the least value are looked at."""
    if "places" in table:
        return Fraction(str(table["places"][place - 1])) if place <= len(table["places"]) else Fraction(0)
    if "first" in table:
        return max(Fraction(0), Fraction(str(table["first"])) - (place - 1) * Fraction(str(table["step"])))
    return formula_value(table["formula"], place, field)


def place_value(table: dict[str, Any], place: int, field: int) -> Fraction:
    """Give what a place is worth in a field of so many."""
    full = table.get("scale_to", field)
    if full <= field:
        value = bare_value(table, place, field)
    else:
        spot = Fraction(1) if field == 1 else 1 + Fraction((place - 1) * (full - 1), field - 1)
        low = math.floor(spot)
        below, above = bare_value(table, low, full), bare_value(table, min(low + 1, full), full)
        value = below + (above - below) * (spot - low)
    return max(value, Fraction(str(table.get("least", 0))))


def given_from(place: int, count: int, vacant: list[int]) -> list[int]:
    """Give so many places from one on, without those that nobody is given."""
    return [each for each in range(place, place + count + len(vacant)) if each not in vacant][:count]


def shared_value(  # noqa: PLR0913, PLR0917
    table: dict[str, Any], place: int, sharers: int, field: int, how: str, vacant: list[int]
) -> Fraction:
    """Give what each of those who share a place earns."""
    if how == "share_better":
        return place_value(table, place, field)
    taken = [place_value(table, each, field) for each in given_from(place, sharers, vacant)]
    return sum(taken, Fraction(0)) / sharers
