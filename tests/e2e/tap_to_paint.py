"""Tap to paint: from a finger on the lane pad to the new number drawn on the on-air view, in a real Chromium.

Both pages run on this machine, so their clocks are one (performance.timeOrigin + performance.now()). The tap is the
pad's own pointer event; the paint is the first task after the frame in which the number changed.
Run by hand for the figure in docs: `python -m e2e.tap_to_paint` in tests/.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page

from e2e.browser import chromium, open_page
from e2e.processes import practice, served
from e2e.sender import Sender

TAPS = 200
FIRST = 100
"""Counting starts here, so that no place, lane or round on the picture is mistaken for the count."""

_WATCH_TAPS = """() => {
  window.taps = [];
  addEventListener("pointerdown", () => taps.push(performance.timeOrigin + performance.now()), { capture: true });
}"""
_WATCH_PAINTS = """() => {
  window.paints = {};
  const drawn = (text) => {
    if (!/^[0-9]+$/.test(text) || text in paints) return;
    paints[text] = 0;
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => { paints[text] = performance.timeOrigin + performance.now(); };
      after.port2.postMessage(null);
    });
  };
  new MutationObserver((changes) => changes.forEach((change) => drawn(change.target.textContent.trim())))
    .observe(document.body, { subtree: true, childList: true, characterData: true });
}"""


def measure(folder: Path, *, taps: int = TAPS, call: bool = False) -> list[float]:
    """Tap the pad and give the milliseconds from each tap to its paint; with the call open if asked."""
    with served("serve", str(practice(folder)), "--data", str(folder / "data"), "--port", "0") as server:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        table.say("rep_counted", lane=1, n=FIRST, at_ms=1)
        with chromium() as browser:
            air = open_page(browser, server.links["on air, heat view"])
            pad = open_page(browser, server.links["lane pad 1"], width=390, height=844)
            if call:
                open_page(browser, server.links["the call"]).wait_for_selector("[data-part=row]")
            prepared(pad, air)
            for number in range(FIRST + 1, FIRST + taps + 1):
                tap_and_see(pad, air, number)
            found = times(pad, air, taps)
        table.close()
    return found


def prepared(pad: Page, air: Page) -> tuple[Page, Page]:
    """Wait for the pages, and note taps and paints from now on."""
    pad.wait_for_selector("[data-part=surface]:not([disabled])")
    air.wait_for_function("document.body.innerText.includes('Long Count')")
    pad.evaluate(_WATCH_TAPS)
    air.evaluate(_WATCH_PAINTS)
    return pad, air


def times(pad: Page, air: Page, taps: int) -> list[float]:
    """Give the milliseconds from each tap to its paint."""
    tapped, painted = pad.evaluate("taps"), air.evaluate("paints")
    assert len(tapped) == taps
    return [painted[str(number)] - at for number, at in enumerate(tapped, start=FIRST + 1)]


def percentile_99(values: list[float]) -> float:
    """The value that 99 % do not exceed."""
    return sorted(values)[max(0, -(-99 * len(values) // 100) - 1)]


def tap_and_see(pad: Page, air: Page, number: int) -> None:
    """Tap, and wait until the number is painted."""
    pad.locator("[data-part=surface]").tap()
    air.wait_for_function(f"paints['{number}'] > 0", timeout=10_000)


def main() -> int:
    """Print the figures, without and with a commentator watching."""
    for call in (False, True):
        with tempfile.TemporaryDirectory() as folder:
            found = measure(Path(folder), call=call)
        figures = f"median {statistics.median(found):.1f} ms, 99 % within {percentile_99(found):.1f} ms"
        print(f"{len(found)} taps, {'a commentator watching' if call else 'nobody else'}: {figures}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
