"""docs/results.md shows what the commands really print."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tallywire.cli.main import main
from tallywire.core.reports.results import ResultRow

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "results.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("number", [0, 1])
def test_the_samples_are_real(number: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The command named before each sample prints it, or begins with it."""
    monkeypatch.chdir(ROOT)
    before, sample = re.findall(r"(.*?)^```text\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)[number]
    command = re.findall(r"`tallywire ([^`]*scenarios[^`]*)`", before)[-1]
    assert main(command.split()) == 0
    assert capsys.readouterr().out.startswith(sample)


def test_every_column_is_named() -> None:
    """The page names every field of a result's row."""
    assert all(f"`{name}`" in TEXT for name in ResultRow.__dataclass_fields__)
