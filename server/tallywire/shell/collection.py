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
    """Look for cycles only once in many thousand new objects, for the rest of the process.

    Nearly everything that a tap makes has no cycles and goes away by itself; the walks would cost a tenth of a tap.
    """
    gc.set_threshold(20_000, 20, 20)
