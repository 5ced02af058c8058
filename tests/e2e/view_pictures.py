"""Pictures of every on-air view for the documents, taken from the real program playing the demo heat.

Run in tests/: `python -m e2e.view_pictures`. Writes docs/pictures/views/*.png.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import Browser

from e2e.browser import chromium, open_page
from e2e.processes import served, steer

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "docs" / "pictures" / "views"
_GROUND = "document.documentElement.style.background = 'linear-gradient(115deg, #55664a, #b5a68c 45%, #2f3a45)'"

PICTURES = {
    "9:08": {
        "heat": "view=heat",
        "track": "view=track",
        "duel": "view=duel",
        "athlete": "view=athlete&who=place:3",
        "clock": "view=clock",
        "workout": "view=workout",
        "lineup": "view=lineup",
        "lineup-one": "view=lineup&who=lane:5",
        "next": "view=next",
        "needed": "view=needed&who=place:2",
    },
    "12:10": {
        "runin": "view=runin",
        "finish": "view=finish",
        "pace": "view=pace&who=place:1,place:2,place:3,place:4",
        "event": "view=event",
        "standings": "view=standings",
    },
    "13:01": {"result": "view=result"},
}
"""What is asked of the on-air page, by the time on the heat clock at which it has most to show."""
UPRIGHT = {"9:08": {"duel-upright": "view=duel"}, "12:10": {"standings-upright": "view=standings"}}


def main() -> int:
    """Play the demo heat from each time and take every view."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with chromium() as browser:
        for start, pictures in PICTURES.items():
            with served("rehearse", "--from", start, "--port", "0") as server:
                steer(server.links["rehearsal"], "pause")
                for name, query in pictures.items():
                    _take(browser, f"{server.base}/air/?{query}", name, width=1920, height=1080)
                for name, query in UPRIGHT.get(start, {}).items():
                    _take(browser, f"{server.base}/air/?{query}", name, width=1080, height=1920)
    return 0


def _take(browser: Browser, link: str, name: str, *, width: int, height: int) -> None:
    page = open_page(browser, link, width=width, height=height)
    page.locator("[data-part=stage]:not([hidden]):not([data-empty])").wait_for()
    page.wait_for_timeout(2500)  # the standing comes a moment later
    page.evaluate(_GROUND)
    page.screenshot(path=FOLDER / f"{name}.png")
    page.context.close()
    print(f"docs/pictures/views/{name}.png")


if __name__ == "__main__":
    sys.exit(main())
