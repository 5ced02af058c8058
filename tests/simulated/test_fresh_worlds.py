"""Worlds that nobody has seen before, in every run others."""

from __future__ import annotations

import os
from random import SystemRandom

import pytest

from simulated.told import all_hold
from simulated.vfs import is_possible

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not is_possible(), reason="this Python's SQLite is no library that can be watched"),
]
FRESH, LONG = 160, 10_000
"""Seeds of the test command, and of `--long`."""


def test_the_invariants_hold_in_fresh_worlds(pytestconfig: pytest.Config) -> None:
    """Worlds that nobody has seen before; a seed that fails is printed with the line that plays it again."""
    if (asked := os.environ.get("WORLD_SEED")) is not None:
        all_hold([int(asked)])
        return
    first = SystemRandom().randrange(10**9)
    print("fresh worlds:", dict(all_hold(range(first, first + (LONG if pytestconfig.getoption("--long") else FRESH)))))
