"""Every format of the program passes the contract, on a heat that was recorded."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from formats.format_contract import FormatContract
from tallywire.core.facts import Fact
from tallywire.core.formats.registry import format_names
from tallywire.core.model.competition import Competition
from tallywire.shell.files import load_competition, load_recording

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@cache
def estuary() -> Competition:
    """The competition with an event of every format."""
    return load_competition(SCENARIOS / "estuary.toml")


class _Recorded(FormatContract):
    heat: str

    def example(self) -> tuple[Competition, Sequence[Fact]]:
        """A recorded heat."""
        return estuary(), load_recording(SCENARIOS / f"estuary-{self.heat}.ndjson")


class TestForTime(_Recorded):
    name, heat = "for_time", "chipper"


class TestForTimeWithPenalty(_Recorded):
    name, heat = "for_time_with_penalty", "sluice"


class TestAmrap(_Recorded):
    name, heat = "amrap", "relay"


class TestMaxLoad(_Recorded):
    name, heat = "max_load", "anchor"


class TestLadder(_Recorded):
    name, heat = "ladder", "lock-ladder"


class TestIntervals(_Recorded):
    name, heat = "intervals", "tides"


class TestTimedIntervals(_Recorded):
    name, heat = "intervals", "sprints"


def test_every_format_is_under_contract() -> None:
    """None is left out."""
    assert {each.name for each in _Recorded.__subclasses__()} == set(format_names())
