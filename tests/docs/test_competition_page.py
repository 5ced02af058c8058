"""docs/competition-file.md shows a file that is right, a report that is real, and every field of the schema."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from docs.bounds_table import written
from tallywire.cli.main import main
from tallywire.wire.competition_file import competition_schema

TEXT = (Path(__file__).parents[2] / "docs" / "competition-file.md").read_text(encoding="utf-8")
SECTIONS = {
    "CompetitionTable": "`[competition]`",
    "DivisionTable": "`[[division]]`",
    "PointsTableTable": "`[[points]]`",
    "StandingsTable": "`[standings]`",
    "TableFromTable": "`tables_from`",
    "CutTable": "`[[cut]]`",
    "EntryTable": "`[[entry]]`",
    "EventTable": "`[[event]]`",
    "WorkoutTable": "`[event.workout]`",
    "StationTable": "`[[event.workout.station]]`",
    "RoundTable": "`[[event.workout.round]]`",
    "LiftingTable": "`[event.workout.lifting]`",
    "LadderTable": "`[event.workout.ladder]`",
    "IntervalsTable": "`[event.workout.intervals]`",
    "TeamTable": "`[event.workout.team]`",
    "PartTable": "`[[event.part]]`",
    "RecordTable": "`[[event.record]]`",
    "VacantTable": "`vacant`",
    "MarkTable": "A mark",
    "FloorTable": "`[[floor]]`",
    "HeatTable": "`[[heat]]`",
    "ThemeTable": "`[theme]`",
    "OutputTable": "`[[output]]`",
    "RundownTable": "`[[rundown]]`",
    "ItemTable": "`[[rundown.item]]`",
}


def block(info: str, number: int = 0) -> str:
    """Give a fenced block of the page."""
    found = re.findall(f"^```{info}\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)
    return str(found[number])


def rows(heading: str) -> dict[str, str]:
    """Give the fields of the first table under a heading of the page, with their defaults."""
    section = TEXT.partition(f"\n### {heading}\n")[2].partition("\n#")[0].partition("| --- |")[2]
    lines = [line.split("|") for line in section.partition("\n\n")[0].splitlines() if line.startswith("| `")]
    return {name: cells[2].strip() for cells in lines for name in re.findall(r"`(\w+)`", cells[1])}


def put(folder: Path, toml: str, lanes: str) -> str:
    """Write the two files of the page into a folder and give the path of the competition file."""
    (folder / "harbour-lanes.csv").write_text(lanes, encoding="utf-8")
    (folder / "harbour.toml").write_text(toml, encoding="utf-8")
    return str(folder / "harbour.toml")


def test_the_small_file_is_right(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The file and the start list of the page pass the check, which answers as the page says."""
    path = put(tmp_path, block("toml"), block("csv"))
    assert main(["check", path]) == 0
    assert capsys.readouterr().out.replace(path, "harbour.toml") == block("text")


def test_the_report_is_real(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the three mistakes the page tells of, the check prints the report of the page and exits with 2."""
    head, second, rest = block("toml").partition('id = "w2"')
    wrong = head + second + rest.replace('division = "women"', 'division = "wimmen"', 1)
    path = put(tmp_path, wrong.replace('"for_time"', '"for_tme"'), block("csv").replace("quay-1,4", "quay-1,3"))
    assert main(["check", path]) == 2
    assert capsys.readouterr().err.replace(path, "harbour.toml") == block("text", 1)


def test_what_is_said_of_a_theme_is_real(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of the small file with the two colours of the page, the check says each line of the page."""
    shown = block("text", 2)
    chalk, cap = re.findall(r'(?:chalk-soft|and cap) ("#\w+")', shown)
    path = put(tmp_path, f"{block('toml')}\n[theme]\nchalk_soft = {chalk}\ncap = {cap}\n", block("csv"))
    assert main(["check", path]) == 2
    assert set(shown.splitlines()) <= set(capsys.readouterr().err.splitlines())


@pytest.mark.parametrize("table", competition_schema()["$defs"])
def test_every_field_is_explained(table: str) -> None:
    """Each table of the schema has a section with exactly its fields; those without a default must be given."""
    schema: dict[str, Any] = competition_schema()["$defs"][table]
    explained = rows(SECTIONS[table])
    assert set(explained) == set(schema["properties"])
    assert {name for name, default in explained.items() if not default} == set(schema.get("required", []))


def test_the_top_is_explained() -> None:
    """The fields at the top of the file are those of the schema."""
    assert set(rows("At the top")) == set(competition_schema()["properties"])


@pytest.mark.parametrize("table", competition_schema()["$defs"])
def test_every_default_is_the_one_that_holds(table: str) -> None:
    """A default that the page gives as a value is that of the schema; one in words stands for none or an empty one."""
    fields = competition_schema()["$defs"][table]["properties"]
    for name, said in rows(SECTIONS[table]).items():
        default = fields[name].get("default")
        if said and re.fullmatch(r'-?[\d.]+|true|false|`["\[].*`', said):
            assert json.loads(said.strip("`")) == default, (table, name)
        elif said:
            assert default in (None, "", [], {}), (table, name, said)


def test_the_bounds_are_those_of_the_schema() -> None:
    """Every bound of the schema stands in the page; run `python tests/docs/bounds_table.py`."""
    assert written(TEXT) == TEXT
