"""A dozen changes that once went unnoticed are noticed: a small version of what `tests/mutate.py` does at random."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def test_changes_that_put_a_wrong_number_on_the_air_are_noticed() -> None:
    """Each by the test that stands with it in tests/mutated/named.toml."""
    tool = Path(__file__).parent / "mutate.py"
    done = subprocess.run([sys.executable, tool, "--named"], capture_output=True, text=True, check=True)
    assert "12 mutants named: 12 noticed, 100.0 %" in done.stdout, done.stdout
