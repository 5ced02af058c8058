"""What is known not to agree with docs/scoring.md, one minimal case a file; each turns red on the day it is mended.

A case that was mended gets `"mended": true`, stays as an ordinary test, and its line in `exclusions.py` goes.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from oracle.door import Said, program
from oracle.exclusions import EXCLUDED

KNOWN = {path.stem: json.loads(path.read_text("utf-8")) for path in sorted((Path(__file__).parent / "known").glob("*"))}


def answer(said: Said, question: str) -> Any:
    """Give what the program says: `results SCORE ENTRY COLUMN` or `standings ENTRY SCORE COLUMN`."""
    command, *path = question.split(" ")
    if command == "results":
        score, entry, column = path
        parts = [score, score] if "/" not in score else score.split("/")
        rows = said["results"]["rows"]
        return next(row[column] for row in rows if [row["event"], row["part"]] == parts and row["entry"] == entry)
    entry, score, column = path
    rows = [row for division in said["standings"]["divisions"] for row in division["rows"]]
    return next(row["scores"][score][column] for row in rows if row["entry"] == entry)


def marked() -> list[Any]:
    """Give every case, those that are not mended as expected to fail."""
    fails = {name: pytest.mark.xfail(strict=True, raises=AssertionError, reason=KNOWN[name]["rule"]) for name in KNOWN}
    return [pytest.param(case, id=name, marks=[] if case["mended"] else fails[name]) for name, case in KNOWN.items()]


@pytest.mark.parametrize("case", marked())
def test_the_program_follows_the_page(case: dict[str, Any], tmp_path: Path) -> None:
    """Results and standings of a case are what docs/scoring.md says, worked out by hand."""
    said = program(tmp_path, case["competition"], case["facts"])
    assert {question: answer(said, question) for question in case["expected"]} == case["expected"]


def test_every_exclusion_has_an_open_case() -> None:
    """What the random run leaves out is shown by a case that is not mended, and by no other way."""
    still_open = {name for name, case in KNOWN.items() if not case["mended"]}
    assert set(EXCLUDED) == still_open
