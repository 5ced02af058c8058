"""The recorded examples, each file read once: reading costs more than most tests do with it, and nothing changes it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.shell.files import load_competition, load_recording

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@cache
def competition_of(name: str) -> Competition:
    """The competition of a file in `scenarios/`, by its name without the ending."""
    return load_competition(SCENARIOS / f"{name}.toml")


@cache
def recorded(name: str) -> tuple[Fact, ...]:
    """The facts of a recording in `scenarios/`, by its name without the ending."""
    return tuple(load_recording(SCENARIOS / f"{name}.ndjson"))
