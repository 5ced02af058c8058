"""Pictures of every page for the documents, taken from the real program playing the demo heat.

Run in tests/: `python -m e2e.pictures`. Writes docs/pictures/*.png.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from e2e.browser import chromium, open_page
from e2e.processes import served, steer

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "docs" / "pictures"
SHOWN_AT = "9:08"
_GROUND = "document.documentElement.style.background = 'linear-gradient(115deg, #55664a, #b5a68c 45%, #2f3a45)'"


def main() -> int:
    """Play the demo heat to its last round, stop it when something was said of it, and take every page."""
    FOLDER.mkdir(exist_ok=True)
    with served("rehearse", "--from", SHOWN_AT, "--port", "0") as server, chromium() as browser:
        call = open_page(browser, server.links["the call"], width=1366, height=900)
        expect(call.locator("[data-part=lines] li")).to_have_count(2, timeout=60_000)
        steer(server.links["rehearsal"], "pause")
        _take("call", _with_facts(call))
        for name, opened in _OPENED.items():
            _take(name, opened(browser, server.links))
    return 0


def _take(name: str, page: Page) -> None:
    page.wait_for_function("document.body.innerText.includes('Breakwater') || !!document.querySelector('iframe')")
    page.wait_for_timeout(3000 if name == "desk" else 1500)
    if name == "on-air":
        page.evaluate(_GROUND)
    page.screenshot(path=FOLDER / f"{name}.png")
    page.context.close()
    print(f"docs/pictures/{name}.png", flush=True)


_OPENED: dict[str, Callable[[Browser, dict[str, str]], Page]] = {
    "on-air": lambda browser, links: open_page(browser, links["on air, heat view"]),
    "board": lambda browser, links: open_page(browser, f"{links['venue board']}?show=floor"),
    "board-ranking": lambda browser, links: open_page(browser, f"{links['venue board']}?show=ranking"),
    "board-countdown": lambda browser, links: open_page(browser, f"{links['venue board']}?show=countdown"),
    "gaps": lambda browser, links: open_page(browser, links["gap feed"], width=1366, height=900),
    "table": lambda browser, links: open_page(browser, links["scoring table"], width=1366, height=900),
    "pad": lambda browser, links: open_page(browser, links["lane pad 4"], width=390, height=780),
    "desk": lambda browser, links: _worked_desk(open_page(browser, links["graphics desk"], width=1600, height=900)),
}


def _with_facts(call: Page) -> Page:
    """Open the facts of the first."""
    for key in ("ArrowDown", "Enter"):
        call.keyboard.press(key)
    return call


def _worked_desk(desk: Page) -> Page:
    """Take the first line of the rundown, and prepare a battle."""
    expect(desk.locator("[data-part=lanes]").get_by_role("button").first).to_be_visible()
    for key in ("ArrowDown", " "):
        desk.keyboard.press(key)
    desk.locator("[data-part=views]").get_by_role("button", name="Two athletes").click()
    for key in ("b", "3"):
        desk.keyboard.press(key)
    return desk


if __name__ == "__main__":
    sys.exit(main())
