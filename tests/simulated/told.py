"""Playing many worlds, and saying which seed failed and how it is played again."""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Iterable

from simulated.world import World, played

REPLAY = "WORLD_SEED={} bash tests/run tests/simulated -k fresh"
A_SWEEP = 50
"""After so many worlds what is left of them, in circles of references, is taken away: 2,000 of them took a gigabyte."""


def told(seed: int, world: World) -> str:
    """Give what does not hold in a world and how to play it again, or nothing."""
    lines = world.checks.broken[:5]
    return "\n  ".join([f"seed {seed}; again: {REPLAY.format(seed)}", *lines]) if lines else ""


def all_hold(seeds: Iterable[int]) -> Counter[str]:
    """Play worlds, check that every invariant holds in each, and give what happened in them together."""
    happened, bad = Counter[str](), []
    for n, seed in enumerate(seeds, start=1):
        world = played(seed)
        happened.update(world.checks.counts)
        happened["worlds"] += 1
        happened["lines"] += len(world.checks.lines)
        bad += [text] if (text := told(seed, world)) else []
        assert len(bad) < 10, "\n".join(bad)
        if n % A_SWEEP == 0:
            gc.collect()
    assert not bad, "\n".join(bad)
    return happened
