"""The page that steers a rehearsal, in a real browser, and the mark that every other page shows meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served, served
from pages.crew import faults

SCENARIOS = Path(__file__).parents[2] / "scenarios"
INTERACTIVE_MS = 500
"""At a processor four times as slow."""
_WATCH = """
  window.shifts = [];
  new PerformanceObserver((list) => window.shifts.push(...list.getEntries().flatMap(({ sources, value }) =>
    sources.map(({ node }) => `${value} ${node?.parentElement?.outerHTML?.slice(0, 90)}`))))
    .observe({ type: "layout-shift", buffered: true });
  new MutationObserver(() => {
    if (document.querySelector("[data-part=play]")?.textContent === "Pause") window.ready ??= performance.now();
  }).observe(document, { childList: true, subtree: true, characterData: true });
"""


@pytest.fixture(name="server", scope="module")
def _server() -> Iterator[Served]:
    with served("rehearse", "--from", "8:00", "--port", "0") as running:
        yield running


@pytest.fixture(name="context", scope="module")
def _context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, bypass_csp=True)
    context.add_init_script(_WATCH)
    yield context
    context.close()


@pytest.fixture(name="steering")
def _steering(context: BrowserContext, server: Served) -> Iterator[Page]:
    page = context.new_page()
    page.goto(server.links["rehearsal"])
    expect(page.locator(".moment").first).to_be_visible()
    yield page
    page.close()


def read(page: Page, part: str) -> str:
    """The text of a part."""
    return page.locator(f"[data-part={part}]").inner_text()


def test_the_page_steers_what_others_show(steering: Page, context: BrowserContext, server: Served) -> None:
    """Paused and sent to another moment by its clock, a board shows its clock and mark; then the next lead."""
    board = context.new_page()
    board.goto(server.links["venue board"])
    steering.locator("[data-part=play]").click()
    expect(steering.locator("[data-part=play]")).to_have_text("Play")
    steering.locator("[data-part=to]").fill("6:00")
    steering.get_by_role("button", name="Go there").click()
    expect(steering.locator("[data-part=clock]")).to_have_text("6:00")
    expect(board.locator("[data-part=clock]")).to_have_text("6:00")
    expect(board.locator("[data-part=rehearsal]")).to_be_visible()
    steering.locator("[data-ask=next]").click()
    expect(steering.locator("[data-part=clock]")).not_to_have_text("6:00")
    expect(board.locator("[data-part=clock]")).to_have_text(read(steering, "clock"))
    steering.locator("[data-part=lane]").select_option("3")
    steering.locator("[data-part=change-at]").fill("4:10")
    steering.get_by_role("button", name="Change it").click()
    expect(steering.locator("[data-part=changes] li")).to_have_count(1)
    steering.locator("[data-part=undo]").click()
    expect(steering.locator("[data-part=changes] li")).to_have_count(0)
    steering.locator("[data-part=play]").click()
    board.close()


def test_what_cannot_be_is_said(steering: Page) -> None:
    """A time that is none, and one that is not there, are answered in words, and nothing moves."""
    for typed, said in (("soon", "expected a time such as 8:30"), ("99:00", "expected a moment from 0.0 s")):
        steering.locator("[data-part=to]").fill(typed)
        steering.get_by_role("button", name="Go there").click()
        expect(steering.locator("[data-part=said]")).to_contain_text(said)


@pytest.mark.parametrize("size", [(1280, 900), (390, 844), (844, 390)], ids=str)
def test_the_page_is_without_fault(steering: Page, size: tuple[int, int]) -> None:
    """axe-core 4.10 finds nothing, nothing is wider than the window, and nothing has moved by itself."""
    steering.set_viewport_size({"width": size[0], "height": size[1]})
    assert faults(steering) == []
    assert steering.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    steering.reload()
    expect(steering.locator(".moment").first).to_be_visible()
    steering.evaluate("() => document.fonts.ready")
    assert steering.evaluate("() => window.shifts") == []


def test_without_a_key_it_says_which_link_to_open(context: BrowserContext, server: Served) -> None:
    """Opened without the key it steers nothing, and says where the link is."""
    page = context.new_page()
    page.goto(server.links["rehearsal"].partition("#")[0])
    expect(page.locator("[data-part=said]")).to_contain_text("Open this page with the link")
    page.close()


@pytest.mark.long
@pytest.mark.alone
def test_it_can_be_used_within_half_a_second(context: BrowserContext, server: Served) -> None:
    """On a processor four times as slow, all is shown and can be pressed 500 ms after the address was opened.

    The best of five: what else the machine does at that moment says nothing of the page.
    """
    took = []
    for _ in range(5):
        page = context.new_page()
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
        page.goto(server.links["rehearsal"])
        expect(page.locator("[data-part=play]")).to_have_text("Pause")
        took.append(page.evaluate("() => window.ready"))
        page.close()
    print("interactive after", ", ".join(f"{each:.0f}" for each in took), "ms")
    assert min(took) < INTERACTIVE_MS


def test_no_theme_takes_the_mark_away(context: BrowserContext, server: Served) -> None:
    """On every page the mark is there in our typeface, even where a theme's would have no letters."""
    for name in ("on air, heat view", "venue board", "gap feed", "the call", "spectator page", "home", "scoring table"):
        page = context.new_page()
        page.goto(server.links[name])
        page.add_style_tag(content=':root, [data-theme] { --face: "Theme" !important; }')
        mark = page.locator("[data-part=rehearsal]")
        expect(mark).to_be_visible()
        expect(mark).to_contain_text("ehearsal", ignore_case=True)
        assert mark.evaluate("(at) => getComputedStyle(at).fontFamily").startswith("Asap"), name
        page.close()
