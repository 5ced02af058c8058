"""What `check` remarks on in a file that has no problems."""

from __future__ import annotations

from pathlib import Path

import pytest

from e2e.processes import PRACTICE
from tallywire.cli.main import main

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def test_a_long_name_without_a_short_form_is_remarked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A name of 25 letters is named with its id; one of 24, and one with a short form, are not."""
    file = tmp_path / "practice.toml"
    for name, remarks in (("x" * 25, 1), ("x" * 24, 0), (f'{"y" * 30}"\nshort = "Y', 0)):
        file.write_text(PRACTICE.replace("Asta Norwood", name), encoding="utf-8")
        assert main(["check", str(file)]) == 0
        said = capsys.readouterr().out
        assert "no problems" in said
        assert said.count("remark") == said.count("(a) has no short form") == remarks


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_files_may_begin_with_a_byte_order_mark(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], mark: bytes
) -> None:
    """Competition, start list and recording are read with one as without (RFC 3629, section 6)."""
    for name in ("saltmarsh.toml", "saltmarsh-lanes.csv", "saltmarsh-women-2.ndjson"):
        (tmp_path / name).write_bytes(mark + (SCENARIOS / name).read_bytes())
    file, heat = tmp_path / "saltmarsh.toml", tmp_path / "saltmarsh-women-2.ndjson"
    assert main(["check", str(file)]) == 0
    assert "no problems (40 entries, 2 events, 6 heats)" in capsys.readouterr().out
    assert main(["results", str(file), str(heat), "--format", "csv"]) == 0
    assert capsys.readouterr().out.count("women-2") == 10
    assert main(["verify", str(heat)]) in (0, 2)


def test_one_is_told_in_the_singular(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """ "1 event"."""
    file = tmp_path / "practice.toml"
    file.write_text(PRACTICE, encoding="utf-8")
    assert main(["check", str(file)]) == 0
    assert "1 event, 1 heat)" in capsys.readouterr().out


def test_another_encoding_is_one_line_with_its_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that a program saved in Latin-1 is told by the line of the first letter that it spoils."""
    file = tmp_path / "practice.toml"
    text = PRACTICE.replace("Asta Norwood", "Åsta Norwood")
    file.write_bytes(text.encode("latin-1"))
    assert main(["check", str(file)]) == 2
    line = text[: text.index("Åsta")].count("\n") + 1
    assert f"line {line}: found the byte C5, which is no UTF-8" in capsys.readouterr().err


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
