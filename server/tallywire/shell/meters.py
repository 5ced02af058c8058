"""What the server counts of itself, as plain numbers: keeping them costs next to nothing, and who asks makes figures of
them (shell/inside.py).
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict, deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil

import orjson

from tallywire.core.facts import Fact
from tallywire.wire.senders import Received

BOUNDS_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0)
"""The upper bounds of the buckets; what takes longer is in one more."""
RECENT_S = 60.0
_RECENT_MOST = 10_000


class Timings:
    """How long something took: how often, in all, by buckets, and each time of the last minute.

    Of more than 10,000 in a minute the newest are kept.
    """

    __slots__ = ("_recent", "buckets", "count", "total_s")

    def __init__(self) -> None:
        self.count = 0
        self.total_s = 0.0
        self.buckets = [0] * (len(BOUNDS_S) + 1)
        self._recent: deque[tuple[float, float]] = deque(maxlen=_RECENT_MOST)

    def add(self, took_s: float, *, now: float) -> None:
        """Count one more, that took so many seconds and is over now."""
        self.count += 1
        self.total_s += took_s
        # A bound belongs to its bucket, as "le" does (OpenMetrics 1.0, histogram).
        self.buckets[bisect_left(BOUNDS_S, took_s)] += 1
        self._recent.append((now, took_s))

    def recent(self, *, now: float) -> list[float]:
        """Give what those of the last minute took, the shortest first."""
        return sorted(took_s for at_s, took_s in self._recent if now - at_s <= RECENT_S)


def at_share(ordered: list[float], share: float) -> float | None:
    """Give the smallest value that so large a share does not exceed (nearest rank); None when there are none."""
    return ordered[ceil(share * len(ordered)) - 1] if ordered else None


@dataclass(slots=True)
class Meters:
    """Everything that is counted since the start.

    `facts` by kind are those that were taken, `refused` those that were not, by code. `answers` go from a message to
    its acknowledgement, `commits` from a group of facts to its being durable, `counting` from there until the group is
    acknowledged and shown, `publishing` are the frames of one time, `background` views by name. `late` is how late the
    event loop came to a call it had planned. `frames` and `bytes` went to clients, by view. `slow` clients read too
    slowly just now, `let_go` were cut off for it.
    """

    facts: Counter[type[Fact]] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    answers: Timings = field(default_factory=Timings)
    commits: Timings = field(default_factory=Timings)
    counting: Timings = field(default_factory=Timings)
    publishing: Timings = field(default_factory=Timings)
    background: defaultdict[str, Timings] = field(default_factory=lambda: defaultdict(Timings))
    late: Timings = field(default_factory=Timings)
    frames: Counter[str] = field(default_factory=Counter)
    bytes: Counter[str] = field(default_factory=Counter)
    slow: int = 0
    let_go: int = 0

    def answered(self, entries: Sequence[Received], *, since_s: float, now: float) -> None:
        """Count a message that came at `since_s` and is answered, and what was in it."""
        self.answers.add(now - since_s, now=now)
        for entry in entries:
            if entry.fact is not None:
                self.facts[type(entry.fact)] += 1
            elif entry.refusal is not None:
                self.refused[orjson.loads(entry.refusal)["code"]] += 1
