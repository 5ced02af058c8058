"""A page has one name: its title, the list the server prints, and the documents have the same."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from core.samples import competition, on_lanes
from tallywire.cli.pages import page_list
from tallywire.shell.keys import make_keys
from tallywire.wire.catalogue import catalogue, filled

ROOT = Path(__file__).parents[2]
LOOK = (ROOT / "docs" / "look.md").read_text(encoding="utf-8")
NAMES: dict[str, str] = {
    folder: name for name, folder in re.findall(r"^\| ([A-Z][\w ]+) \| `/(\w+)/` \|", LOOK, re.MULTILINE)
}
"""The names of the pages by folder, as docs/look.md lists them."""


def test_every_page_has_a_name() -> None:
    """The list in docs/look.md has every page there is and no other."""
    assert set(NAMES) == {page.parent.name for page in (ROOT / "overlay").glob("*/index.html")}


@pytest.mark.parametrize("folder", NAMES)
def test_a_page_says_its_name(folder: str) -> None:
    """The title is the name; a heading that is there before the first frame is the name or its first word."""
    text = filled((ROOT / "overlay" / folder / "index.html").read_text(encoding="utf-8"), catalogue("en"))
    assert re.findall(r"<title>(.*?)</title>", text) == [NAMES[folder]]
    headings = [re.sub("<[^>]+>", "", heading).strip() for heading in re.findall(r"<h1[^>]*>(.*?)</h1>", text)]
    assert all(NAMES[folder].startswith(heading) for heading in headings)


def test_the_server_prints_the_names() -> None:
    """Every address that the server prints stands behind the name of its page."""
    keys = make_keys(on_lanes([1, 2, 3]))
    printed = "\n".join(page_list("http://here", keys, competition(), rehearsal=each) for each in (True, False))
    rows = re.findall(r"^  (.+?)\s{2,}http://here/(\w+)/", printed, re.MULTILINE)
    assert {folder for _, folder in rows} == set(NAMES)
    assert [row for row in rows if not row[0].startswith(NAMES[row[1]].lower())] == []


@pytest.mark.parametrize("folder", NAMES)
def test_the_documents_use_the_names(folder: str) -> None:
    """README.md presents the page by its name, and docs/venue.md has it in the list of addresses."""
    name = NAMES[folder]
    assert f"**{name}**".lower() in (ROOT / "README.md").read_text(encoding="utf-8").lower()
    assert f"| {name} | `/{folder}/".lower() in (ROOT / "docs" / "venue.md").read_text(encoding="utf-8").lower()
