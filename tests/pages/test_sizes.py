"""Every page a person works with, in every window people have: long names, ten and twenty lanes, without a link.

Sizes: a small phone held either way, a tablet held upright, two laptops, and one of them at 200 % (WCAG 2.2, 1.4.4).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from time import time_ns

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served, served
from e2e.sender import Sender
from pages.crew import competition, faults
from pages.reuse import device
from tallywire.wire.catalogue import LANGUAGES

pytestmark = pytest.mark.slow

SIZES = ((360, 640), (640, 360), (768, 1024), (1280, 720), (1366, 768), (683, 384))
MOVEMENT = "Alternating dumbbell walking lunge"
LAPTOPS = ((1280, 720), (1366, 768))
PAGES = {
    "scoring table": "[data-part=row]",
    "graphics desk": "[data-part=preview]",
    "venue board": ".row",
    "gap feed": "[data-part=row]",
    "the call": "[data-part=row]",
    "lane pad 1": "[data-part=surface]",
    "audit": ".line",
    "home": ".link",
    "spectator page": "[data-part=lanes] [data-part=name]",
    "spotter": "[data-part=lanes] [data-part=name]",
    "server": "[data-part=rows]",
}
"""What is there when a page has its numbers."""
CHECKED = {"spotter", "server", "graphics desk", "home", "spectator page", "audit", "the call", "gap feed"}
"""Other tests have axe-core look at these with a link."""
WHOLE = {
    ("scoring table", "ten"),
    ("venue board", "ten"),
    ("lane pad 1", "ten"),
    ("graphics desk", "ten"),
    ("spotter", "ten"),
}
"""Where there is room for 36 letters in every window: no name is cut."""
_CUT = """() => [...document.querySelectorAll("[data-part=name]")].filter(
  (e) => e.clientWidth && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight * 1.25 + 4)
).map((e) => e.textContent)"""
_BELOW = """() => {
  const room = document.querySelector(".sheet").getBoundingClientRect();
  const rows = [...document.querySelectorAll("[data-part=row]")];
  return rows.map((e) => e.getBoundingClientRect().bottom - room.bottom).filter((below) => below > 1);
}"""
_FOOT = """() => new Set([...document.querySelectorAll(".foot > *")].map((e) => e.getBoundingClientRect().top)).size"""
"""In how many lines the foot is."""
_DRAWN = """() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A day of long names without a short form and a long movement, with both heats running."""
    folder = tmp_path_factory.mktemp("sizes")
    text = re.sub(r"short = .*\n", "", competition()).replace("Sandbag over shoulder", MOVEMENT)
    (folder / "day.toml").write_text(text, encoding="utf-8")
    with served("serve", str(folder / "day.toml"), "--data", str(folder / "data"), "--port", "0") as running:
        table = Sender(running.port, "table-sizes", running.key("scoring table"))
        for heat, lanes in (("twenty", 20), ("ten", 10)):
            table.say("heat_called", heat=heat, unix_ms=time_ns() // 1_000_000)
            table.say("heat_started", heat=heat, unix_ms=time_ns() // 1_000_000 - 60_000)
            for lane in range(1, lanes + 1):
                table.say("count_corrected", heat=heat, lane=lane, at_ms=50_000, scored_reps=lane, reason="practice")
        table.say("penalty_given", heat="ten", lane=3, reps=2, reason="practice")
        table.close()
        yield running


@pytest.fixture(scope="module")
def window(browser: Browser) -> Iterator[BrowserContext]:
    """A window whose pages may be looked into."""
    opened = device(browser, size=(1366, 768), bypass_csp=True)
    yield opened
    opened.close()


def opened(window: BrowserContext, server: Served, name: str, heat: str, language: str = "en") -> Page:
    """Open a page for a heat, and wait until it shows something."""
    page = window.new_page()
    address, _, key = server.links[name].partition("#")
    address = address.replace("/public/", f"/public/{language}/")
    page.goto(f"{address}{'&' if '?' in address else '?'}heat={heat}&lang={language}#{key}")
    expect(page.locator(PAGES[name]).first).to_be_visible()
    return page


def windows(page: Page, name: str, heat: str) -> None:
    """Nothing lies beside any window, no name is cut where there is room, every lane is on a laptop at once."""
    for size in SIZES:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.evaluate(_DRAWN)
        assert page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0, size
        assert (name, heat) not in WHOLE or page.evaluate(_CUT) == [], size
        assert name != "scoring table" or size not in LAPTOPS or page.evaluate(_BELOW) == [], size
        assert name != "scoring table" or size != LAPTOPS[1] or page.evaluate(_FOOT) == 1, size


@pytest.mark.parametrize("name", PAGES)
def test_a_page_fits_every_window(window: BrowserContext, server: Served, name: str) -> None:
    """With ten lanes, and without a link on the smallest phone; axe-core finds nothing in either."""
    page = opened(window, server, name, "ten")
    windows(page, name, "ten")
    assert name in CHECKED or faults(page) == []
    window.set_offline(True)
    page.wait_for_timeout(300)
    for size in reversed(SIZES):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0, ("without a link", size)
    assert faults(page) == []
    window.set_offline(False)
    page.close()


@pytest.mark.long
@pytest.mark.parametrize("language", LANGUAGES[1:])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_fits_every_window_in_every_language(
    window: BrowserContext, server: Served, name: str, language: str
) -> None:
    """As in English, with the words of each language."""
    page = opened(window, server, name, "ten", language)
    assert page.evaluate("() => document.documentElement.lang") == language
    windows(page, name, "ten")
    page.close()


@pytest.mark.parametrize("name", ["gap feed", "the call"])
def test_twenty_long_names_are_whole_for_commentators(window: BrowserContext, server: Served, name: str) -> None:
    """On a tablet held upright and on laptops the column of names grows where nobody gave a short form."""
    page = opened(window, server, name, "twenty")
    for size in ((768, 1024), *LAPTOPS):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.evaluate(_DRAWN)
        expect(page.locator("[data-part=name]").last).to_be_visible()
        assert page.evaluate(_CUT) == [], size
    page.close()


def test_twenty_lanes_fit_every_window(window: BrowserContext, server: Served) -> None:
    """The table, whose rows are lower then; lanes without a pad can still be counted by keys."""
    page = opened(window, server, "scoring table", "twenty")
    expect(page.locator("[data-part=keyboard-open]")).to_be_visible()
    windows(page, "scoring table", "twenty")
    page.close()
