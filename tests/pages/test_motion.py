"""The heat standing with twenty lanes, 25 updates a second: little work a picture, no long task, nothing kept."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from pages.motion import LANES, RATE, Work, heap_bytes, open_moving, send, traced

pytestmark = pytest.mark.slow

BUDGET_MS = 4.0
"""Scripting, style and layout for one picture, 95 of 100 times."""
LONG_TASK_MS = 50.0
MANY = 20_000
TRIES = 4
_MEBI = 1024 * 1024
_READS = """() => {
  const name = document.querySelector('[data-part=row] [data-part=name]');
  const again = () => {
    name.style.paddingLeft = `${Math.random()}px`;
    void name.offsetWidth;
    requestAnimationFrame(again);
  };
  requestAnimationFrame(again);
}"""


@pytest.mark.alone
def test_twenty_lanes_at_full_rate_stay_inside_the_budget(browser: Browser, address: str) -> None:
    """No long task or forced layout in the best of some stretches, and 95 of 100 pictures inside twice the budget.

    Other processes on a shared machine make the same work take longer, never shorter: the best stretch counts, and is
    printed. The goal itself is measured on a free machine (docs/performance.md); twice that is what fails here.
    """
    page = open_moving(browser, f"{address}/air/index.html?view=heat")
    send(page, 2 * RATE)
    seconds: list[Work] = []
    while len(seconds) < TRIES and not (seconds and min(each.percentile(0.95) for each in seconds) < BUDGET_MS):
        seconds.append(traced(browser, page, 2 * RATE))
    page.close()
    best = min(seconds, key=lambda each: each.percentile(0.95))
    print(f"a picture: median {best.percentile(0.5):.2f} ms, 95 % within {best.percentile(0.95):.2f} ms, {LANES} lanes")
    print(f"longest task {max(each.longest_task for each in seconds):.1f} ms in {len(seconds)} stretches")
    assert len(best.pictures) >= RATE
    assert best.percentile(0.95) < 2 * BUDGET_MS
    assert best.longest_task < LONG_TASK_MS
    assert sum(each.forced for each in seconds) == 0


@pytest.mark.alone
def test_a_layout_read_after_a_write_is_seen(browser: Browser, address: str) -> None:
    """The measure itself: a page that writes and then reads the layout is told to."""
    page = open_moving(browser, f"{address}/air/index.html?view=heat")
    page.evaluate(_READS)
    work = traced(browser, page, RATE)
    page.close()
    assert work.forced > RATE / 2


def test_two_thousand_updates_keep_nothing(browser: Browser, address: str) -> None:
    """What the page holds after 2,000 updates is what it held after 200, within a part of a mebibyte."""
    assert grown(browser, address, 200, 2_000) < _MEBI / 2


@pytest.mark.long
def test_twenty_thousand_updates_keep_nothing(browser: Browser, address: str) -> None:
    """Thirteen minutes of a heat at full rate, told faster."""
    assert grown(browser, address, 2_000, MANY) < _MEBI / 2


def grown(browser: Browser, address: str, warm: int, updates: int) -> int:
    """Give by how much the page's heap is larger after so many updates more."""
    page = open_moving(browser, f"{address}/air/index.html?view=heat", every_ms=4)
    send(page, warm)
    before = heap_bytes(page)
    send(page, updates)
    after = heap_bytes(page)
    page.close()
    print(f"{updates} updates: {before / _MEBI:.2f} → {after / _MEBI:.2f} MiB")
    return after - before
