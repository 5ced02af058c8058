"""Random competitions: the program against an oracle written from docs/scoring.md alone, row by row."""

from __future__ import annotations

from pathlib import Path
from random import SystemRandom

import pytest

from oracle.case import REPLAY, asked_seed, drawn
from oracle.door import compared

FRESH, LONG = 30, 2000
"""How many fresh competitions the test command plays, and how many `--long` plays: about 45 ms of processor each."""


def told(folder: Path, seed: int) -> str:
    """Give what differs for a seed and how to play it again, or nothing."""
    lines = compared(folder, *drawn(seed))
    return "\n  ".join([f"seed {seed}; again: {REPLAY.format(seed)}", *lines]) if lines else ""


def test_fresh_competitions_agree_in_every_row(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """Results and standings of competitions nobody has seen before are those of the oracle."""
    first = asked_seed()
    if first is not None:
        assert not (text := told(tmp_path, first)), text
        return
    first = SystemRandom().randrange(10**9)
    seeds = range(first, first + (LONG if pytestconfig.getoption("--long") else FRESH))
    bad = [text for text in (told(tmp_path, seed) for seed in seeds) if text]
    print(f"{len(seeds)} competitions from seed {first}, {len(bad)} differ")
    assert not bad, f"{len(bad)} of {len(seeds)} from seed {first} differ\n" + "\n".join(bad[:10])
