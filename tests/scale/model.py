"""An arena and its public as queues: what waits where, when many tap and very many look. Pure, but for the dice given.

Taps go through the writer (one core, one after the other), group commits on Redis, and an edge (one core), which sends
a heat's frame at once and then at most 25 times a second. The public's phones ask one cache of many, as the page does
(overlay/public/feed.js); a cache works on many cores and sends over one line.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from random import Random

import numpy as np
from numpy.typing import NDArray

from scale.costs import Costs

TICK_S = 1 / 25
SEGMENT_S = 20.0
SLOT_S = 0.05
ASKS_S = 2.05
"""Lists and segments a second that a cache asks for a floor: one a half second, one segment in twenty seconds."""
Times = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arena:
    """One competition: heats at once, reps a second in each, and how many watch each heat at an edge, crew included."""

    heats: int
    facts_s: float = 4.0
    lanes: int = 8
    watchers: int = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """How long taps took until the last watcher's frame was written (s), and how busy each core was (share)."""

    late_s: Times
    writer: float
    redis: float
    edge: float

    def within(self, share: float) -> float:
        """Give the time within which this share of the taps were shown, in s."""
        return float(np.quantile(self.late_s, share))


def taps(arena: Arena, seconds: float, dice: Random) -> list[tuple[float, int]]:
    """Give the taps of all lanes, each with its heat: about evenly apart on a lane, as people move."""
    mean_s, found = arena.lanes / arena.facts_s, list[tuple[float, int]]()
    for lane in range(arena.heats * arena.lanes):
        at = dice.random() * mean_s
        while at < seconds:
            found.append((at, lane // arena.lanes))
            at += mean_s * dice.uniform(0.7, 1.3)
    return sorted(found)


def one_after_the_other(arrivals: Sequence[float], service_s: float) -> list[float]:
    """Give when each leaves a server that works on one at a time, in order."""
    left, free = list[float](), 0.0
    for at in arrivals:
        free = max(free, at) + service_s
        left.append(free)
    return left


def committed(arrivals: Sequence[float], *, group_s: float, each_s: float) -> list[float]:
    """Give when each is durable: everything that came while the last group was written is the next group."""
    done, free, first = list[float](), 0.0, 0
    while first < len(arrivals):
        begins = max(free, arrivals[first])
        last = first
        while last < len(arrivals) and arrivals[last] <= begins:
            last += 1
        free = begins + group_s + each_s * (last - first)
        done += [free] * (last - first)
        first = last
    return done


def through_arena(arena: Arena, costs: Costs, *, seconds: float, dice: Random) -> Flow:
    """Let a competition run for so long."""
    came = taps(arena, seconds, dice)
    at = [when for when, _ in came]
    durable = committed(
        one_after_the_other(at, costs.writer_fact_s), group_s=costs.redis_group_s, each_s=costs.redis_fact_s
    )
    shown, edge_s = _shown(list(zip(durable, (heat for _, heat in came), strict=True)), arena, costs)
    end = max(seconds, shown[-1])
    return Flow(
        late_s=np.array(shown) - np.array(at),
        writer=len(at) * costs.writer_fact_s / end,
        redis=len(at) * costs.redis_fact_s / end,
        edge=edge_s / end,
    )


def _shown(durable: Sequence[tuple[float, int]], arena: Arena, costs: Costs) -> tuple[list[float], float]:
    """Give when each fact was sent to all who watch its heat, and how long the edge has worked."""
    shown, free, worked = [0.0] * len(durable), 0.0, 0.0
    frame_s = arena.watchers * costs.edge_frame_s
    sent, waiting = [-1.0] * arena.heats, [list[int]() for _ in range(arena.heats)]
    due: list[tuple[float, int]] = []
    facts = deque((at, number, heat) for number, (at, heat) in enumerate(durable))
    while facts or due:
        if facts and (not due or max(facts[0][0], free) <= due[0][0]):
            at, number, heat = facts.popleft()
            free, worked = max(free, at) + costs.edge_fact_s, worked + costs.edge_fact_s
            if not waiting[heat]:
                heappush(due, (max(free, sent[heat] + TICK_S), heat))
            waiting[heat].append(number)
        else:
            at, heat = heappop(due)
            free, worked = max(free, at) + frame_s, worked + frame_s
            sent[heat] = max(at, free - frame_s)
            for number in waiting[heat]:
                shown[number] = free
            waiting[heat].clear()
    return shown, worked


@dataclass(frozen=True, slots=True, kw_only=True)
class Cache:
    """A cache machine. Bytes grow by `overhead` on the line: TLS records, TCP and IP."""

    cores: int = 16
    line_bits_s: float = 10e9
    overhead: float = 1.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Rush:
    """How a cache fared: the shares of its cores and its line in use, requests a second, the longest wait in s."""

    cores: float
    line: float
    asks_s: float
    late_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Crowd:
    """Who looks at a cache: `viewers` from the beginning, `newcomers` who connect anew in the middle of the time.

    A phone tries again one to two seconds after its first failure, so all of them come within a second.
    """

    viewers: int
    newcomers: int = 0


SAMPLE = 20_000
"""So many phones are simulated at most, each of which stands for as many as it takes."""


def through_cache(crowd: Crowd, costs: Costs, *, cache: Cache, seconds: float, dice: np.random.Generator) -> Rush:
    """Let a crowd look for so long."""
    each = max(1.0, (crowd.viewers + crowd.newcomers) / SAMPLE)
    viewers, newcomers = round(crowd.viewers / each), round(crowd.newcomers / each)
    due = np.concatenate([dice.uniform(0, 1.1, viewers), seconds / 2 + dice.uniform(1, 2, newcomers)])
    # Those that come late have no segment and no connection yet.
    known = np.concatenate([np.zeros(viewers), np.full(newcomers, -1.0)])
    core, line = _Queue(SLOT_S), _Queue(SLOT_S)
    asked = 0.0
    for slot in range(round(seconds / SLOT_S)):
        now = slot * SLOT_S
        asks = np.flatnonzero(due <= now)
        new = asks[known[asks] != now // SEGMENT_S]
        shaken = np.count_nonzero(known[new] < 0)
        known[new] = now // SEGMENT_S
        due[asks] = now + 1.0 + 0.2 * dice.random(len(asks))
        requests = len(asks) + len(new)
        core.take(each * (requests * costs.cache_request_s + shaken * costs.cache_handshake_s) / cache.cores)
        sent = len(asks) * costs.list_bytes + len(new) * costs.segment_bytes
        line.take(each * 8 * cache.overhead * sent / cache.line_bits_s)
        asked += each * requests
    return Rush(
        cores=core.all_s / seconds,
        line=line.all_s / seconds,
        asks_s=asked / seconds,
        late_s=core.longest_s + line.longest_s,
    )


class _Queue:
    """Work that comes in slots and is done in order: how much came, and the longest that any of it waited, in s."""

    def __init__(self, slot_s: float) -> None:
        self.all_s = self.longest_s = 0.0
        self._slot_s, self._left_s = slot_s, 0.0

    def take(self, work_s: float) -> None:
        """Take the work of a slot."""
        self.all_s += work_s
        self._left_s = max(0.0, self._left_s + work_s - self._slot_s)
        self.longest_s = max(self.longest_s, self._left_s)
