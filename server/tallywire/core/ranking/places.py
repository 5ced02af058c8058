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


def event_places(heats: Iterable[Mapping[K, S]], *, no_result: Collection[K] = ()) -> dict[K, int]:
    """Give the places in an event over all its heats, from each heat's keys where smaller is better.

    Those in `no_result` share the place after all who have a result, whatever their keys say and whether or not they
    have one. Raises ValueError for an entry that stands in two heats.
    """
    keys: dict[K, S] = {}
    for heat in heats:
        twice = keys.keys() & heat.keys()
        if twice:
            raise ValueError(f"found {', '.join(sorted(map(str, twice)))} in two heats, expected one heat an entry")
        keys |= heat
    placed = places({each: key for each, key in keys.items() if each not in no_result})
    return placed | dict.fromkeys(no_result, len(placed) + 1)
