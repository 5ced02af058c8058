"""`tallywire bench`: every measure runs, and says what it promises to say. How fast anything is, is not asked here."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tallywire.cli.main import OK, WRONG, main
from tallywire.core.errors import TallywireError
from tallywire.measure import profile
from tallywire.measure.catalogue import MEASURES
from tallywire.measure.machine import IDLE_LOAD
from tallywire.measure.scale import Scale

PAGE = Path(__file__).parents[2] / "docs" / "performance.md"
QUICK = ("fold", "start", "tap", "profile", "call", "frames", "rebuild")
"""Measures that are over in a moment with `--quick`; the others run with what takes long."""
LONG = [pytest.param(each.name, marks=pytest.mark.long) for each in MEASURES if each.name not in QUICK]


def bench(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[str, str]:
    """Run the command and give what it printed."""
    assert main(["bench", *arguments]) == OK
    said = capsys.readouterr()
    return said.out, said.err


@pytest.mark.slow
@pytest.mark.parametrize("name", [*QUICK, *LONG])
def test_a_measure_gives_figures(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every row is as long as the headings, and something above nothing was measured in each table."""
    out, err = bench(capsys, "--quick", "--json", "--only", name)
    assert f" {name}: " in err
    assert "load" in err
    [measured] = json.loads(out)["measures"]
    assert measured["tables"]
    for table in measured["tables"]:
        assert {len(row) for row in table["rows"]} == {len(table["columns"])}
        figures = [cell for row in table["rows"] for cell in row if isinstance(cell, dict)]
        assert figures
        assert all(each["median"] >= 0 for each in figures)
        assert any(each["median"] > 0 for each in figures)


def test_the_machine_is_described(capsys: pytest.CaptureFixture[str]) -> None:
    """Cores and load stand above everything, with a warning exactly when other work runs or a core is missing."""
    out, _ = bench(capsys, "--quick", "--json", "--only", "fold")
    machine = json.loads(out)["machine"]
    assert bool(machine["warning"]) == (machine["load"] > IDLE_LOAD or machine["cores"] < 2)


def test_the_tables_go_into_a_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Between the markers, with the words around them left alone."""
    page = tmp_path / "page.md"
    page.write_text("before\n<!-- bench: fold -->\n<!-- end of bench -->\nafter\n")
    bench(capsys, "--quick", "--only", "fold", "--write", str(page))
    assert re.fullmatch(r"before\n<!-- bench: fold -->\n.*\| facts before \|.*\nafter\n", page.read_text(), re.DOTALL)


def test_a_picture_goes_beside_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is well-formed SVG, with a bar for each row of the table and the words of the row beside it."""
    page = tmp_path / "page.md"
    page.write_text("<!-- bench: profile -->\n<!-- end of bench -->\n")
    out, _ = bench(capsys, "--quick", "--json", "--only", "profile", "--write", str(page))
    [table] = json.loads(out)["measures"][0]["tables"]
    drawn = ElementTree.parse(tmp_path / "pictures" / "bench-profile.svg").getroot()  # noqa: S314 - our own
    bars = drawn.findall("{http://www.w3.org/2000/svg}rect")
    words = [each.text for each in drawn.findall("{http://www.w3.org/2000/svg}text")]
    assert len(bars) == len(table["rows"]) + 1, "one is the page behind them"
    assert [row[0] for row in table["rows"]] == words[::2]
    assert sum(row[1]["median"] for row in table["rows"]) <= 100.001


def test_the_list_names_every_measure(capsys: pytest.CaptureFixture[str]) -> None:
    """A line each, with about how long it takes; all together stay under a quarter of an hour."""
    out, _ = bench(capsys, "--list")
    assert [line.split()[0] for line in out.splitlines()] == [entry.name for entry in MEASURES]
    assert sum(entry.about_s for entry in MEASURES) <= 15 * 60


def test_a_measure_that_fails_costs_the_others_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is said which was not measured and why, the others are printed, and the exit code tells."""

    def fail(_scale: Scale) -> None:
        raise TallywireError("found 3 pads cut off")

    monkeypatch.setattr(profile, "measure", fail)
    assert main(["bench", "--quick", "--only", "profile", "--only", "fold"]) == WRONG
    said = capsys.readouterr()
    assert "profile was not measured: found 3 pads cut off" in said.err
    assert said.out.startswith("fold (load")


def test_a_measure_that_is_not_there_is_explained(capsys: pytest.CaptureFixture[str]) -> None:
    """The others are named."""
    assert main(["bench", "--only", "nonsense"]) == WRONG
    assert "found nonsense, expected one of fold" in capsys.readouterr().err


def test_the_page_has_markers_for_every_measure() -> None:
    """`--write docs/performance.md` finds a place for each, and no place is left over."""
    assert re.findall(r"<!-- bench: (\w+) -->", PAGE.read_text(encoding="utf-8")) == [each.name for each in MEASURES]
