"""A theme on real pages: its colours, face and mark are on the air and on the board, and nothing changes its place."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from e2e.processes import Served, tallywire
from e2e.show import SHOW, started
from pages.contrast import pale
from pages.measure import faults, settle
from pages.stub import OVERLAY
from wire.test_theme import SVG

pytestmark = pytest.mark.slow

THEME = """
[theme]
mat = "#0b1622"
mat_raised = "#182635"
tape = "#ffd166"
face = "club.woff2"
logo = "mark.svg"
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A running heat of a competition with a theme."""
    folder = tmp_path_factory.mktemp("theme")
    (folder / "show.toml").write_text(SHOW + THEME, encoding="utf-8")
    (folder / "mark.svg").write_bytes(SVG)
    shutil.copy(next((OVERLAY / "shared" / "fonts").glob("*.woff2")), folder / "club.woff2")
    with started(folder / "show.toml", {1: 7}) as (running, _):
        yield running


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """A page into which a test may look; each goes to an address of its own."""
    context = browser.new_context(viewport={"width": 1920, "height": 1080}, bypass_csp=True, reduced_motion="reduce")
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("view", ["heat", "athlete", "track", "workout"])
def test_a_themed_view_keeps_its_shape(page: Page, server: Served, view: str) -> None:
    """The theme's mat, face and mark are there; nothing overlaps, leaves the safe area or is too pale."""
    page.goto(f"{server.base}/air/?view={view}")
    page.locator("[data-part=stage]:not([data-cleared])").wait_for(state="attached")
    settle(page)
    page.evaluate("() => document.fonts.ready")
    settle(page)
    style = page.evaluate(
        """() => { const look = getComputedStyle(document.querySelector('.logo'));
          return [getComputedStyle(document.documentElement).getPropertyValue('--mat').trim(), look.backgroundImage,
            look.display, [...document.fonts].some((face) => /Theme/.test(face.family) && face.status === 'loaded')];
        }"""
    )
    assert style == ["#0b1622", f'url("{server.base}/theme/logo")', "block", True]
    assert faults(page, inset=0.05, row="view" if view != "heat" else "row") == []
    assert pale(page) == []


def test_the_board_has_the_theme_too(page: Page, server: Served) -> None:
    """Its ground is the theme's mat, and the mark stands in its slot."""
    page.goto(f"{server.base}/board/")
    page.locator("[data-part=row]").first.wait_for()
    assert page.evaluate("() => getComputedStyle(document.body).getPropertyValue('--mat').trim()") == "#0b1622"
    expect(page.locator(".logo")).to_be_visible()
    assert faults(page, inset=0.0) == []


def test_the_desk_keeps_our_look(page: Page, server: Served) -> None:
    """Those who work at a page read it in our colours whatever the pictures wear."""
    page.goto(server.links["graphics desk"])
    assert (
        page.evaluate("() => getComputedStyle(document.documentElement).getPropertyValue('--mat').trim()") == "#14150f"
    )


def test_a_pale_theme_is_refused_by_name(tmp_path: Path) -> None:
    """`tallywire check` ends with 2 and names the pair and the ratio."""
    path = tmp_path / "pale.toml"
    path.write_text(SHOW + '\n[theme]\nchalk_soft = "#767676"\n', encoding="utf-8")
    done = subprocess.run(tallywire("check", str(path)), capture_output=True, text=True, check=False)
    assert done.returncode == 2
    said = 'theme.chalk_soft (line 64): found chalk-soft "#767676" on mat "#14150f": 4.04 to 1, expected 4.5 to 1'
    assert said in done.stderr
