"""The whole server core in simulated worlds full of faults: whatever the seed, the invariants hold after every step."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import AbstractContextManager

import pytest

from shell.test_journal_damage import no_seal
from simulated.checks import ALTERED, INVARIANTS, LOST
from simulated.mutants import MUTANTS
from simulated.told import all_hold
from simulated.vfs import is_possible
from simulated.world import Mutant, played

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not is_possible(), reason="this Python's SQLite is no library that can be watched"),
]
FIXED, LONG = range(320), range(1_000)
"""The seeds that stay, of the test command and of `--long`; test_fresh_worlds.py has more that nobody has seen."""
HAPPENS = (
    "killed", "power cut", "stopped", "died", "disk broken", "disk full", "low", "held", "storage", "worked out",
    "connection broken", "connection left", "clock set",
    "flip named", "flip harmless", "gap", "error", "acknowledged", "snapshot", "patch",
)  # fmt: skip
"""What must have happened in some world, or the worlds are too quiet to prove anything."""


def test_the_invariants_hold_in_the_worlds_that_stay(pytestconfig: pytest.Config) -> None:
    """The same worlds each time, in which every kind of fault and of answer comes up."""
    happened = all_hold(LONG if pytestconfig.getoption("--long") else FIXED)
    print("fixed worlds:", dict(happened))
    assert [what for what in HAPPENS if not happened[what]] == []


def test_a_seed_makes_the_same_world_again() -> None:
    """Nothing is left to chance but by the seed, down to every bit of the disk."""
    one, again = played(7), played(7)
    assert one.checks.lines == again.checks.lines
    assert one.checks.counts == again.checks.counts
    assert list(one.disk.now().values()) == list(again.disk.now().values())


def first_broken(mutant: Mutant, seeds: Iterable[int]) -> set[str]:
    """Play worlds with a mutant until something is found broken, and give the invariants."""
    for seed in seeds:
        if broken := played(seed, mutant).checks.broken:
            return {each.partition(":")[0] for each in broken}
    return set()


@pytest.mark.parametrize("name", MUTANTS)
def test_every_mutant_is_caught(name: str) -> None:
    """The invariants are able to fail: each is broken by a server that is made to break it."""
    mutant, expected = MUTANTS[name]
    assert first_broken(mutant, range(150)) & expected


def test_every_invariant_has_a_mutant() -> None:
    """No invariant is without a mutant that it must catch."""
    assert set().union(*(expected for _, expected in MUTANTS.values())) == set(INVARIANTS)


def test_a_flipped_bit_goes_through_without_the_seal() -> None:
    """The flips prove something: where the seal is not compared, a start misses facts and reports nothing."""
    mutant: AbstractContextManager[object] = no_seal()
    with mutant:
        assert first_broken(Mutant(), range(1000, 2000)) & {ALTERED, LOST}
