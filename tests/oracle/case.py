"""One random case from its seed."""

from __future__ import annotations

import os
from random import Random
from typing import Any

from oracle.counted import Fact
from oracle.draw import draw_competition
from oracle.draw_facts import draw_recording
from oracle.exclusions import left_out

FIXED = range(90)
"""The seeds of the fixed part of the slice: they reach every feature."""
REPLAY = "ORACLE_SEED={} bash tests/run tests/oracle/test_random.py -k fresh"
"""The line that plays one seed again."""


def drawn(seed: int) -> tuple[dict[str, Any], list[Fact]]:
    """Give the competition and the recording of a seed, without what is excluded."""
    dice = Random(seed)
    competition = draw_competition(dice)
    return competition, left_out(competition, draw_recording(dice, competition))


def asked_seed() -> int | None:
    """Give the seed that is to be played again, if one is."""
    text = os.environ.get("ORACLE_SEED")
    return None if text is None else int(text)
