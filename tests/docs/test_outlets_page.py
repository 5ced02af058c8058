"""docs/outlets.md has the columns that there are, and its addresses answer."""

from __future__ import annotations

import re
from pathlib import Path

from tallywire.core.outlets.columns import ROW_KINDS, SHARED, Column
from web.site import site

PAGE = (Path(__file__).parents[2] / "docs" / "outlets.md").read_text(encoding="utf-8")


def _lines(columns: tuple[Column, ...]) -> str:
    return "".join(f"| `{each.name}` | {each.kind} | {each.says} |\n" for each in columns)


def test_every_column_stands_on_the_page() -> None:
    """Under each heading of views there are exactly the columns of their rows, in order."""
    sections = re.split(r"^### ", PAGE.partition("\n## CSV")[0], flags=re.MULTILINE)[1:]
    tables = {section.split("\n")[0]: "".join(re.findall(r"^\| `.*\n", section, re.MULTILINE)) for section in sections}
    assert tables.pop("In every row") == _lines(SHARED)
    found = {view: table for title, table in tables.items() for view in re.findall(r"`(\w+)`", title.split(":")[0])}
    assert found == {view: _lines(kind.columns[len(SHARED) :]) for view, kind in ROW_KINDS.items()}


def test_every_address_on_the_page_answers() -> None:
    """The addresses at the top of the page are those of the index, and each is there."""
    named = re.findall(r"^    (/v1/\S*)", PAGE, re.MULTILINE)
    with site() as server:
        index = server.client.get("/v1/").json()["addresses"]
        assert named == ["/v1/", *(each.replace("{heat}", "HEAT").replace("{view}", "VIEW") for each in index)]
        for path in named:
            method = "HEAD" if path.endswith("events") else "GET"
            asked = path.replace("HEAT", "floor").replace("VIEW", "heat")
            assert server.client.request(method, asked).status_code == 200
