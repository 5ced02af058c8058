"""What `check` remarks on in a file that has no problems."""

from __future__ import annotations

from pathlib import Path

import pytest

from e2e.processes import PRACTICE
from tallywire.cli.main import main


def test_a_long_name_without_a_short_form_is_remarked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A name of 25 letters is named with its id; one of 24, and one with a short form, are not."""
    file = tmp_path / "practice.toml"
    for name, remarks in (("x" * 25, 1), ("x" * 24, 0), (f'{"y" * 30}"\nshort = "Y', 0)):
        file.write_text(PRACTICE.replace("Asta Norwood", name), encoding="utf-8")
        assert main(["check", str(file)]) == 0
        said = capsys.readouterr().out
        assert "no problems" in said
        assert said.count("remark") == said.count("(a) has no short form") == remarks


TWO_FLOORS = """
[[floor]]
id = "east"
name = "East"

[[floor]]
id = "west"
name = "West"

[[event]]
id = "short"
name = "Short"
workout = { format = "amrap", time_cap = "5:00", station = [{ movement = "Row", amount = 9 }] }

[[heat]]
id = "h1"
name = "Heat 1"
event = "long"
floor = "east"
start = 2027-06-05T14:00:00+02:00
lanes = { 1 = "a" }

[[heat]]
id = "h2"
name = "Heat 2"
event = "short"
floor = "west"
start = 2027-06-05T14:59:00+02:00
lanes = { 1 = "b", 2 = "a" }
"""
"""The hour of the first heat is not over when the second begins."""


@pytest.mark.parametrize(("second", "remarks"), [("14:59:00", 1), ("15:00:00", 0), ("13:56:00", 1), ("13:55:00", 0)])
def test_one_who_is_to_race_on_two_floors_at_once_is_remarked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], second: str, remarks: int
) -> None:
    """By the timetable and the time caps, an hour and five minutes; who is in one of the heats alone is not named."""
    file = tmp_path / "practice.toml"
    file.write_text(PRACTICE.partition("[[heat]]")[0] + TWO_FLOORS.replace("14:59:00", second), encoding="utf-8")
    assert main(["check", str(file)]) == 0
    said = capsys.readouterr().out
    assert said.count("remark") == said.count('"Asta Norwood" (a) is to race in h') == remarks
