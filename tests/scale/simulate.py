"""From one arena to a thousand heats at once and ten million viewers: machines, lines, and what breaks first.

    PYTHONPATH=server:tests python -m scale.simulate              # the tables of docs/scale.md
    PYTHONPATH=server:tests python -m scale.simulate --measure    # with what things cost on this machine, in a minute

It measures nothing at that size: what one thing costs is measured (costs.py), what many of them do is simulated
(model.py), under the assumptions that are printed. The dice are seeded, so the same costs give the same tables.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator
from math import ceil
from random import Random

import numpy as np

from scale.costs import Costs, measured
from scale.model import ASKS_S, Arena, Cache, Crowd, Flow, Rush, through_arena, through_cache

SEED = 14
HEATS, FLOORS, VIEWERS = 1000, 4, 10_000_000
LATE_S = 1.0
"""Slower than that, for one tap in a hundred, a crew notices, and an arena counts as broken."""
WAIT_S = 0.3
"""So long a phone may wait for a cache: with 1.7 s of the feed and its own second it is two seconds behind."""
BUSY = 0.5
"""The share of a core or a line that is planned with."""


def arena_of(arena: Arena, costs: Costs, seconds: float = 60.0) -> Flow:
    """Simulate a competition."""
    return through_arena(arena, costs, seconds=seconds, dice=Random(SEED))


def cache_of(viewers: int, costs: Costs, *, newcomers: int = 0) -> Rush:
    """Simulate a cache."""
    crowd, dice = Crowd(viewers=viewers, newcomers=newcomers), np.random.default_rng(SEED)
    return through_cache(crowd, costs, cache=Cache(), seconds=44.0, dice=dice)


def most(holds: Callable[[int], bool], *, within: int) -> int:
    """Give the largest number that holds, to two digits' worth: what holds for one, holds for every smaller one."""
    low, high = 0, within
    while high - low > max(1, high // 50):
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def rounded(value: float) -> str:
    """Write a number with two digits that count, in groups of three."""
    digits = len(str(int(abs(value))))
    return f"{round(value, 2 - digits):,.0f}" if value >= 10 else f"{value:.2g}"


def table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> Iterator[str]:
    """Give a table in Markdown."""
    names = list(head)
    yield f"| {' | '.join(names)} |"
    yield f"|{' --- |' * len(names)}"
    for row in rows:
        yield f"| {' | '.join(row)} |"


def of_one_competition(costs: Costs) -> Iterator[str]:
    """How one competition grows with its floors."""
    sizes = [Arena(heats=heats) for heats in (1, 4, 16, 64)]
    sizes += [Arena(heats=4, watchers=watchers) for watchers in (250, 1000)]
    rows = []
    for size in sizes:
        flow = arena_of(size, costs)
        shares = (f"{100 * share:.1f} %" for share in (flow.writer, flow.redis, flow.edge))
        waits = (f"{1000 * flow.within(share):,.0f} ms" for share in (0.5, 0.99))
        rows.append([str(size.heats), f"{size.heats * size.facts_s:.0f}", f"{size.watchers:,}", *shares, *waits])
    names = ("heats at once", "reps a second", "watchers of each heat, at one edge", "writer", "Redis", "edge")
    yield from table([*names, "half shown within", "99 %"], rows)


def breaking(costs: Costs) -> dict[str, int]:
    """Find where each part of an arena, and of the public's way, no longer keeps up."""

    def shows(arena: Arena) -> bool:
        return arena_of(arena, costs, 20.0).within(0.99) <= LATE_S

    return {
        "heats": most(lambda heats: shows(Arena(heats=heats, watchers=1)), within=2000),
        "watchers": most(lambda watchers: shows(Arena(heats=4, watchers=watchers)), within=50_000),
        "viewers": most(lambda viewers: cache_of(viewers, costs).late_s <= WAIT_S, within=1_000_000),
        "asks": int(1 / costs.list_given_s),
    }


def of_everything(costs: Costs, caches: int) -> Iterator[str]:
    """The machines of a thousand heats and ten million viewers."""
    yield from table(("what", "how much", "of which"), [*_of_arenas(costs), *_of_the_public(costs, caches)])


def _of_arenas(costs: Costs) -> Iterator[tuple[str, str, str]]:
    competitions, flow = HEATS // FLOORS, arena_of(Arena(heats=FLOORS), costs)
    each = "two servers, Redis with a replica, two edges each"
    yield f"competitions of {FLOORS} floors", str(competitions), each
    yield (
        "cores that all servers keep busy",
        rounded(competitions * flow.writer),
        f"{100 * flow.writer:.1f} % of one each",
    )
    yield (
        "cores that all edges keep busy",
        rounded(competitions * 2 * flow.edge),
        f"{100 * flow.edge:.1f} % of one each",
    )


def _of_the_public(costs: Costs, caches: int) -> Iterator[tuple[str, str, str]]:
    each = VIEWERS // caches
    rush, lost = cache_of(each, costs), cache_of(each, costs, newcomers=each // (caches - 1))
    anew = cache_of(0, costs, newcomers=each)
    bits_s = Cache().line_bits_s * rush.line
    yield (
        "cache machines",
        str(caches),
        f"{Cache().cores} cores, {Cache().line_bits_s / 1e9:.0f} Gbit/s each; half the viewers at which one breaks",
    )
    yield "requests a second", rounded(rush.asks_s * caches), f"{rounded(rush.asks_s)} at each cache"
    yield "to the public", f"{rounded(bits_s * caches / 1e9)} Gbit/s", f"{bits_s / 1e9:.2f} Gbit/s from each cache"
    yield "in use of a cache", f"{100 * rush.cores:.0f} % of its cores", f"{100 * rush.line:.0f} % of its line"
    yield "longest wait at a cache", _ms(rush), "when all ask for a new segment, every 20 s"
    yield "when one cache is lost", _ms(lost), "its viewers come to the others, with a handshake each"
    yield "when all phones connect anew", _ms(anew), "within a second, after the network was gone"
    asked = caches * FLOORS * ASKS_S
    yield "asked of one competition", f"{asked:,.0f} a second", f"by all caches: {asked * costs.list_given_s:.1f} cores"
    yield "behind a second row of caches", f"{2 * FLOORS * ASKS_S:.0f} a second", "two machines, which all others ask"


def _ms(rush: Rush) -> str:
    return f"{1000 * rush.late_s:,.0f} ms"


def of_breaking(found: dict[str, int]) -> Iterator[str]:
    """What breaks first, and what an operator does."""
    caches = int(found["asks"] / FLOORS / ASKS_S)
    another = "another competition file, with a Redis database and servers of its own"
    rows = [
        (
            "caches that ask one edge, of four floors",
            caches,
            "the edge's core",
            "a second row of caches between",
        ),
        ("heats at once in one competition", found["heats"], "the writer's core", another),
        (
            "watchers of each of four heats at one edge",
            found["watchers"],
            "the edge's core",
            "another edge; the public to `/public/`",
        ),
        ("viewers at one cache", found["viewers"], "its cores, at a new segment", "another cache under the same name"),
    ]
    yield from table(
        ("breaks at", "so many", "what is used up", "then"),
        ([what, rounded(number), used, then] for what, number, used, then in rows),
    )


def report(costs: Costs) -> Iterator[str]:
    """Give the tables."""
    found = breaking(costs)
    caches = ceil(VIEWERS / (found["viewers"] * BUSY))
    yield from of_one_competition(costs)
    yield ""
    yield from of_everything(costs, caches)
    yield ""
    yield from of_breaking(found)


def main() -> None:
    """Print, and measure first if asked to."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--measure", action="store_true", help="measure what things cost here, and keep it")
    if parser.parse_args().measure:
        measured().keep()
    print("\n".join(report(Costs.kept())))


if __name__ == "__main__":
    main()
