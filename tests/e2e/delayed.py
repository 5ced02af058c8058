"""In step with a delayed picture: when a tap is painted on an output that is behind, and what a change of delay shows.

The page's clock and this process's are one machine's. The paint is the first task after the frame in which the number
changed, as in tap_to_paint.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Page

from e2e.browser import chromium, open_page
from e2e.processes import practice, served
from e2e.sender import Sender

FIRST = 100
"""Counting starts here, so that no place, lane or round on the picture is mistaken for the count."""
WATCH = """() => {
  window.counts = [];
  window.clocks = [];
  const after = new MessageChannel();
  const waiting = [];
  after.port1.onmessage = () => { const at = performance.timeOrigin + performance.now();
    for (const number of waiting.splice(0)) counts.push([number, at]); };
  const log = (node) => {
    const text = node.textContent.trim();
    const part = (node.nodeType === 1 ? node : node.parentElement)?.closest("[data-part]")?.dataset.part;
    if (part === "clock" && /^[0-9]+:[0-9]{2}$/.test(text)) {
      const [minutes, seconds] = text.split(":").map(Number);
      if (clocks.at(-1) !== minutes * 60 + seconds) clocks.push(minutes * 60 + seconds);
    }
    if (part === "figure" && /^[0-9]+$/.test(text) && Number(text) >= 100) {
      waiting.push(Number(text));
      requestAnimationFrame(() => after.port2.postMessage(null));
    }
  };
  new MutationObserver((changes) => changes.forEach((change) => log(change.target)))
    .observe(document.body, { subtree: true, childList: true, characterData: true });
}"""


@dataclass(frozen=True, slots=True)
class Delayed:
    """A running heat with the standing on an output, the table that taps, and the desk that sets the delay."""

    table: Sender
    desk: Sender
    air: Page

    def delay(self, ms: int) -> None:
        """Set how far the output is behind."""
        self.desk.say("delay_set", output="world", unix_ms=time.time_ns() // 1_000_000, delay_ms=ms)

    def tap(self) -> float:
        """Count one rep and give when, in Unix milliseconds."""
        at_ms = time.time() * 1000
        self.table.say("rep_counted", lane=1, n=1, at_ms=1)
        return at_ms

    def counts(self) -> list[tuple[int, float]]:
        """Every number that was painted, with its time, in the order it was."""
        return [(number, at_ms) for number, at_ms in self.air.evaluate("counts")]

    def clocks(self) -> list[int]:
        """Every second the clock showed, in the order it did."""
        seconds: list[int] = self.air.evaluate("clocks")
        return seconds


@contextmanager
def delayed_output(folder: Path) -> Iterator[Delayed]:
    """Start a heat, put its standing on programme, and watch what is painted there."""
    command = ("serve", str(practice(folder)), "--data", str(folder / "data"), "--port", "0")
    with served(*command) as server, chromium() as browser:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        desk = Sender(server.port, "desk-a", server.key("graphics desk"), role="desk")
        table.start_heat()
        table.say("rep_counted", lane=1, n=FIRST, at_ms=1)
        desk.say("view_taken", output="world", unix_ms=time.time_ns() // 1_000_000, view="heat", params={})
        air = open_page(browser, server.links["on air, output world"])
        air.wait_for_selector("[data-part=stage]:not([data-cleared])")
        air.evaluate(WATCH)
        yield Delayed(table, desk, air)
        table.close()
        desk.close()
