"""docs/cues.md says what the rules and the demo heat say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tallywire.core.cues import CueRules, every_kind, script_lines
from tallywire.core.cues.script import cue_script
from tallywire.formats.ladder.cues import BAR_OPEN_MS
from tallywire.shell.files import load_competition, load_recording
from tallywire.wire.cue_wording import default_wording

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "cues.md").read_text(encoding="utf-8")


HEATS = (
    ("saltmarsh", "women-2"),
    ("estuary", "anchor"),
    ("estuary", "lock-ladder"),
    ("estuary", "tides"),
    ("estuary", "sprints"),
)


@pytest.mark.parametrize(("number", "competition", "heat"), [(n, *names) for n, names in enumerate(HEATS)])
def test_the_printed_cues_are_those_of_the_heat(number: int, competition: str, heat: str) -> None:
    """Each block is what the program prints; after a change of wording or of the heat, print it again."""
    facts = load_recording(ROOT / "scenarios" / f"{competition}-{heat}.ndjson")
    script = cue_script(load_competition(ROOT / "scenarios" / f"{competition}.toml"), heat, facts)
    blocks = re.findall(r"^```cues\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)
    assert len(blocks) == len(HEATS)
    assert blocks[number].splitlines() == script_lines(script, default_wording())


def test_the_table_has_every_kind_with_its_weight_and_life() -> None:
    """Every kind stands in the table as it is in the program."""
    rows = re.findall(r"^\| `(\w+)` \| (\d+) \| (\d+) \|", TEXT, re.MULTILINE)
    assert rows == [(kind.value, str(kind.weight), str(kind.ttl_ms // 1000)) for kind in every_kind()]


def test_the_limits_are_those_of_the_rules() -> None:
    """The figures in the text are the defaults."""
    rules = CueRules()
    assert (rules.a_minute, rules.spacing_ms, rules.reserved, rules.urgent) == (6, 5_000, 2, 70)
    assert (rules.urgent_spacing_ms, rules.holds_ms, rules.rest_ms, rules.run_in_reps) == (2_000, 4_000, 90_000, 5)
    assert (rules.chase_within_ms, rules.chase_cut_ms, rules.catch_within_ms) == (20_000, 3_000, 150_000)
    assert (rules.cap_margin_ms, rules.cap_reach_ms, rules.no_reps, rules.no_reps_within_ms) == (
        8_000,
        60_000,
        3,
        30_000,
    )
    assert (rules.unbroken_least, rules.finish_settles_ms, rules.alternates_ms) == (8, 1_500, 60_000)
    assert BAR_OPEN_MS == 15_000
