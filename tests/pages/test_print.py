"""What is printed, as Chromium would print it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tallywire.cli.main import main

pytestmark = pytest.mark.slow

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def sheets(page: Page, path: Path) -> int:
    """Count the sheets of A4: the page objects of the PDF (ISO 32000-1, 7.7.3.3)."""
    page.goto(path.as_uri())
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))


def test_the_call_sheet_of_ten_lanes_is_one_sheet_and_its_back(page: Page, tmp_path: Path) -> None:
    """With another heat to beat and a record, all that the commentator asks for is on one side of the paper.

    How good the forecast was is on the other side.
    """
    recording, out = str(SCENARIOS / "saltmarsh-women-2.ndjson"), tmp_path / "call.html"
    asked = [str(SCENARIOS / "saltmarsh.toml"), recording, "--heat", "women-1"]
    assert main(["callsheet", *asked, "--out", str(out)]) == 0
    assert sheets(page, out) == 2
    out.write_text(out.read_text(encoding="utf-8").replace("9.5pt", "14pt"), encoding="utf-8")
    assert sheets(page, out) == 3


def test_what_the_booth_is_told_is_on_the_back(page: Page, tmp_path: Path) -> None:
    """Ten lanes of which nearly all have something told: still one sheet, and no name is broken in the middle."""
    out = tmp_path / "call.html"
    assert main(["callsheet", str(SCENARIOS / "saltmarsh.toml"), "--heat", "women-2", "--out", str(out)]) == 0
    assert sheets(page, out) == 2
    booth = page.locator("section", has_text="For the booth")
    assert booth.evaluate("(each) => getComputedStyle(each).breakBefore") == "page"
    cell = booth.locator("td", has_text="Montefresno")
    lines = "(each) => { const r = new Range(); r.selectNodeContents(each); return r.getClientRects().length; }"
    assert cell.evaluate(lines) == 1
    assert "her daughter" in booth.inner_text()
