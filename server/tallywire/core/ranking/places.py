"""Places from sort keys."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Hashable, Iterable, Mapping
from itertools import accumulate
from typing import Any, Protocol, TypeVar


class _Ordered(Hashable, Protocol):
    def __lt__(self, other: Any, /) -> bool: ...


K = TypeVar("K", bound=Hashable)
S = TypeVar("S", bound=_Ordered)


def places(keys: Mapping[K, S]) -> dict[K, int]:
    """Give each competitor's place by a key where smaller is better.

    Equal keys share the better place and the next place is skipped: 1, 2, 2, 4 (standard competition ranking,
    the same as `scipy.stats.rankdata(..., method="min")`).
    """
    counts = Counter(keys.values())
    ordered = sorted(counts)
    firsts = accumulate((counts[key] for key in ordered), initial=1)
    first_place = dict(zip(ordered, firsts, strict=False))
    return {competitor: first_place[key] for competitor, key in keys.items()}


def passing_over(place: int, vacant: Collection[int]) -> int:
    """Give a place when nobody is given the vacant ones: the third of those left is fourth where second is vacant."""
    for each in sorted(vacant):
        place += each <= place
    return place


def field_with(field: int, *, ranked: int, vacant: Collection[int]) -> int:
    """Give the size of a field with vacant places: it reaches at least to the last place of those `ranked`."""
    return max(field, passing_over(ranked, vacant)) if vacant else field


def event_places(
    heats: Iterable[Mapping[K, S]], *, no_result: Collection[K] = (), vacant: Collection[int] = ()
) -> dict[K, int]:
    """Give the places in an event over all its heats, from each heat's keys where smaller is better.

    Those in `no_result` share the place after all who have a result, whatever their keys say and whether or not they
    have one. Nobody is given a `vacant` place. Raises ValueError for an entry that stands in two heats.
    """
    keys: dict[K, S] = {}
    for heat in heats:
        twice = keys.keys() & heat.keys()
        if twice:
            raise ValueError(f"found {', '.join(sorted(map(str, twice)))} in two heats, expected one heat an entry")
        keys |= heat
    placed = places({each: key for each, key in keys.items() if each not in no_result})
    found = placed | dict.fromkeys(no_result, len(placed) + 1)
    return {each: passing_over(place, vacant) for each, place in found.items()} if vacant else found
