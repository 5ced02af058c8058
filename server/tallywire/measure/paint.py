"""What an on-air picture costs a browser: the heat standing of twenty lanes in a real Chromium, while pads tap."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from tallywire.measure.figures import Cell, Figure, FigureTable
from tallywire.measure.scale import Scale
from tallywire.measure.served import served_heat
from tallywire.measure.taps import RATE
from tallywire.measure.turns import in_turn
from tallywire.measure.ways import FloorPads

LANES = 20
_PARTS = {"Task": "all of the page's thread", "Script": "script", "Layout": "layout", "RecalcStyle": "style"}
"""Names of Chromium's own metrics (Chrome DevTools Protocol, Performance.getMetrics), without `Duration`."""


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Tap, and ask the browser how long the page's thread was at work; nothing where there is no browser."""
    chromium = shutil.which("chromium")
    if chromium is None or find_spec("playwright") is None:
        yield FigureTable(title="No Chromium, or no Playwright to drive it: not measured", columns=("part",), rows=())
        return
    taps = scale.sized(60, quick=5)
    spent: dict[str, list[float]] = {part: [] for part in _PARTS}
    with tempfile.TemporaryDirectory() as folder, served_heat(Path(folder), lanes=LANES, taps=taps * 8) as server:
        pads = FloorPads(server)
        with _page(chromium, f"http://127.0.0.1:{server.port}/air/?view=heat") as metrics:

            def act() -> float:
                before = metrics()
                _tap(pads, taps)
                after = metrics()
                for part, found in spent.items():
                    found.append((after[f"{part}Duration"] - before[f"{part}Duration"]) * 1000 / taps)
                return spent["Task"][-1]

            in_turn({"page": act}, scale)
        pads.close()
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (says, Figure.of(spent[part][-scale.repeats :])) for part, says in _PARTS.items()
    )
    yield FigureTable(
        title=f"The on-air heat view of {LANES} lanes, {RATE} taps a second, in Chromium",
        columns=("part", "ms of the page's thread a tap"),
        rows=rows,
        notes=("script, style and layout; what draws the picture has threads of its own",),
    )


def _tap(pads: FloorPads, taps: int) -> None:
    due = time.perf_counter()
    for _ in range(taps):
        pads.attend_until(due)
        pads.tap()
        due += 1 / RATE
    pads.attend_until(due)


@contextmanager
def _page(chromium: str, address: str) -> Iterator[Callable[[], dict[str, float]]]:
    """Open a page, and give what asks the browser for its metrics."""
    playwright: Any = import_module("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1920, "height": 1080})
        page.goto(address)
        page.wait_for_function(f"() => document.querySelectorAll('[data-part=row]').length === {LANES}")
        session = page.context.new_cdp_session(page)
        session.send("Performance.enable", {"timeDomain": "threadTicks"})

        def metrics() -> dict[str, float]:
            return {each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]}

        yield metrics
        browser.close()
