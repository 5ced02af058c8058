"""The view that docs/graphics.md gives as a beginning works as it stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from pages.contrast import pale
from pages.heats import NAMES, Scene, frame
from pages.measure import faults
from pages.stub import OVERLAY, Wire
from tallywire.web.joined import Modules

pytestmark = pytest.mark.slow

TEMPLATE, MINE = Path(__file__).parents[2] / "docs" / "template-view.js", "air/views/mine.js"


def open_template(page: Page, address: str, scene: Scene) -> Wire:
    """Open the template as a view called "mine"."""

    def give(route: Route) -> None:
        texts = {path.relative_to(OVERLAY).as_posix(): path for path in (*OVERLAY.rglob("*.js"), OVERLAY / MINE)}
        texts[MINE] = TEMPLATE
        modules = Modules({name: path.read_text(encoding="utf-8") for name, path in texts.items()})
        route.fulfill(body=modules.joined("air/air.js").text, content_type="text/javascript")

    page.route("**/air/joined.js", give)
    wire = Wire(page, frame(scene))
    page.goto(f"{address}/air/index.html?view=mine")
    return wire


def test_the_template_is_short() -> None:
    """A view is one file of fewer than 80 lines, this one with its explanations."""
    assert len(TEMPLATE.read_text(encoding="utf-8").splitlines()) < 80


@pytest.mark.parametrize("names", NAMES)
def test_the_template_is_a_whole_view(page: Page, address: str, names: str) -> None:
    """It shows who came in last and how many are home, inside the safe area, on its backing and with the mark."""
    scene = Scene(name="finishing", names=names, clock_ms=800_000)
    lanes = frame(scene)["lanes"].values()
    home = [lane for lane in lanes if lane["status"] == "finished"]
    newest = max(home, key=lambda lane: lane["reached_ms"])
    open_template(page, address, scene)
    expect(page.locator("[data-part=count]")).to_have_text(f"{len(home)} of {len(lanes)} finished")
    expect(page.locator("[data-part=figure]")).to_have_text(newest["result"])
    assert page.locator("[data-part=name]").inner_text() in (newest["name"], newest["short"])
    expect(page.get_by_text("Unofficial")).to_be_visible()
    assert faults(page, inset=0.05, row="view") == []
    assert pale(page) == []


def test_the_template_is_empty_without_anybody(page: Page, address: str) -> None:
    """Before anybody is home there is no picture, mark and all."""
    open_template(page, address, Scene(name="running"))
    stage = page.locator("[data-part=stage]")
    expect(stage).to_have_attribute("data-empty", "")
    expect(page.get_by_text("Unofficial")).to_be_hidden()
