"""Pictures of every page for the documents, taken from the real program playing the demo heat.

Run in tests/: `python -m e2e.pictures`. Writes docs/pictures/*.png.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import Browser, Page

from e2e.browser import chromium, open_page
from e2e.processes import Served, served

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "docs" / "pictures"
SHOWN_AT = "9:11"
_GROUND = "document.documentElement.style.background = 'linear-gradient(115deg, #55664a, #b5a68c 45%, #2f3a45)'"


def main() -> int:
    """Play the demo heat to its fourth round and take every page."""
    FOLDER.mkdir(exist_ok=True)
    with served("rehearse", "--from", SHOWN_AT, "--port", "0") as server, chromium() as browser:
        for name, page in _pages(browser, server).items():
            page.wait_for_function("document.body.innerText.includes('Breakwater')")
            page.wait_for_timeout(1000)
            if name == "on-air":
                page.evaluate(_GROUND)
            page.screenshot(path=FOLDER / f"{name}.png")
            print(f"docs/pictures/{name}.png")
    return 0


def _pages(browser: Browser, server: Served) -> dict[str, Page]:
    links = server.links
    return {
        "on-air": open_page(browser, links["on-air heat view"]),
        "board": open_page(browser, links["venue board"]),
        "gaps": open_page(browser, links["gap feed"], width=1366, height=900),
        "table": open_page(browser, links["scoring table"], width=1366, height=900),
        "pad": open_page(browser, links["lane pad 4"], width=390, height=780),
    }


if __name__ == "__main__":
    sys.exit(main())
