"""The page of the on-air views says whom each of them takes, as the program has it."""

from __future__ import annotations

import re
from pathlib import Path

from tallywire.core.show.catalogue import CATALOGUE

PAGE = Path(__file__).parents[2] / "docs" / "views.md"
_ROW = re.compile(r"^\| \[`([a-z]+)`\].*\| ([^|]+) \|$", re.MULTILINE)
_MANY = {"–": (0, 0), "may name one": (0, 1), "one": (1, 1), "two": (2, 2), "one to four": (1, 4)}


def test_the_page_says_whom_each_view_takes() -> None:
    """A row for each view of the catalogue, with how many it may be about."""
    said = {name: _MANY[who.partition(";")[0].strip()] for name, who in _ROW.findall(PAGE.read_text(encoding="utf-8"))}
    assert said == {each.name: (each.least, each.most) for each in CATALOGUE.values()}
