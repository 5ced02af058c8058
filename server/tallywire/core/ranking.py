"""Places from sort keys."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
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
