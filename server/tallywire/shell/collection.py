"""The interpreter's cycle collector, kept out of the way while very many small objects are made, all of which stay."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Make objects without the collector walking over them again and again; afterwards it ignores those that exist.

    None of them is garbage: facts, tallies and books. It halves the time a journal takes to read.
    """
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if was:
            gc.enable()


def collect_seldom() -> None:
    """Look for cycles only once in some thousand new objects, for the rest of the process, and rarely among all.

    Much that a tap makes goes away by itself, and the walks would cost a tenth of a tap. What does not, each fold of a
    heat that was judged, holds its lanes' facts: the longer it is let lie, the longer the event loop stands still when
    it goes. At 1,000 facts a second 99 of 100 answers came within 17 ms this way, and within 44 when it was once in
    20,000 (tests/e2e/bench_acks.py).
    """
    gc.set_threshold(5_000, 20, 80)
