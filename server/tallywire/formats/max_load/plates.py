"""Bars, collars and discs, and what is put on a side of the bar. Loads are integers in thousandths of their unit."""

from __future__ import annotations

from math import gcd

from tallywire.formats.max_load.rules import LiftingRules

IWF_BARS_MILLI = (20_000, 15_000)
IWF_PLATES_MILLI = (25_000, 20_000, 15_000, 10_000, 5_000, 2_500, 2_000, 1_500, 1_000, 500)
"""Bars and discs in thousandths of a kilogram (International Weightlifting Federation, technical rules)."""

LB_BARS_MILLI = (45_000, 35_000)
LB_PLATES_MILLI = (55_000, 45_000, 35_000, 25_000, 15_000, 10_000, 5_000, 2_500, 1_250)
"""Bars and plates in thousandths of a pound: common practice, no source."""

KNOWN_PLATES_MILLI = {"kg": IWF_PLATES_MILLI, "lb": LB_PLATES_MILLI}
KNOWN_BARS_MILLI = {"kg": IWF_BARS_MILLI, "lb": LB_BARS_MILLI}


def plates_a_side(rules: LiftingRules, load_milli: int) -> tuple[int, ...] | None:
    """Give the plates for one side, heaviest first, or None when the plates at hand cannot make the load.

    A load below bar and collars cannot be made, except that of the bar alone, which needs no collars.
    """
    if load_milli == rules.bar_milli:
        return ()
    left, odd = divmod(load_milli - rules.bar_milli - 2 * rules.collar_milli, 2)
    if left < 0 or odd:
        return None
    return _fewest(left, rules.plates_milli)


def _fewest(left: int, plates: tuple[int, ...]) -> tuple[int, ...] | None:
    """Take the heaviest first; where that leads nowhere, try fewer of the heaviest. What was tried is remembered."""
    stuck: set[tuple[int, int]] = set()

    def fill(left: int, index: int) -> tuple[int, ...] | None:
        if left == 0:
            return ()
        if index == len(plates) or (left, index) in stuck or left % gcd(*plates[index:]):
            return None
        for count in range(left // plates[index], -1, -1):
            rest = fill(left - count * plates[index], index + 1)
            if rest is not None:
                return (plates[index],) * count + rest
        stuck.add((left, index))
        return None

    return fill(left, 0)
