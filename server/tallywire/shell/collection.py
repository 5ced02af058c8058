"""The interpreter's cycle collector, kept out of the way while very many small objects are made that all live on."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Make objects without the collector walking them again and again; afterwards it passes over those there are.

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
