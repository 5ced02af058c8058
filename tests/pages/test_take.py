"""From one picture to the next on an output, as the desk takes them: whole before it is seen, and never a flash."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from e2e.processes import Served
from e2e.sender import Sender
from e2e.show import show_file, started
from pages.flashes import MOST, Luminance, flashes_a_second, luminance
from pages.test_flashes import QUICK, SIZE, transition

pytestmark = pytest.mark.slow

ORDER = (
    "heat",
    "athlete",
    "track",
    "duel",
    "clock",
    "finish",
    "event",
    "workout",
    "standings",
    "runin",
    "pace",
    "heat",
)
WHO = {"athlete": "lane:1", "duel": "lane:1,lane:2", "finish": "lane:1", "pace": "lane:1,lane:2"}
_BARE = """() => [...document.querySelectorAll("[data-part=stage]:not([data-cleared])")]
  .filter((stage) => !stage.querySelector("[data-part=view]").innerText.trim()).map((stage) => stage.dataset.view)"""

_STOP_AT_ONCE = """
addEventListener("DOMContentLoaded", () => (document.documentElement.style.background = "#fff"));
addEventListener("transitionrun", ({ target }) => {
  if (!target.matches("[data-part=stage]")) return;
  window.crossing = true;
  for (const each of document.getAnimations()) each.pause();
}, true);
"""
"""Over a white picture; a crossing stops where it begins, so that a busy machine misses none of it."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A heat in which lane 1 has finished and lane 2 works on."""
    folder = tmp_path_factory.mktemp("take")
    with started(show_file(folder), {2: 7, 1: 20}) as (running, _):
        yield running


@pytest.fixture
def air(browser: Browser, server: Served) -> Iterator[Page]:
    """The output over a white picture, where a dark graphic makes the greatest change."""
    context = browser.new_context(
        bypass_csp=True, reduced_motion="no-preference", viewport={"width": SIZE[0], "height": SIZE[1]}
    )
    page = context.new_page()
    page.add_init_script(_STOP_AT_ONCE)
    page.goto(server.links["on air, output world"])
    page.wait_for_function("document.readyState === 'complete'")
    yield page
    context.close()


def take(desk: Sender, view: str) -> None:
    """Take a view, or clear."""
    fields = {"output": "world", "unix_ms": time.time_ns() // 1_000_000}
    if not view:
        desk.say("view_cleared", **fields)
        return
    desk.say("view_taken", view=view, params={"who": WHO[view]} if view in WHO else {}, **fields)


def test_no_take_flashes_or_shows_half_a_picture(air: Page, server: Served) -> None:
    """Every view comes over the one before it, and goes in the end, one after the other without a pause."""
    desk = Sender(server.port, "desk-flash", server.key("graphics desk"), role="desk")
    frames: list[Luminance] = [luminance(air.screenshot(type="jpeg", quality=90))]
    for view in (*ORDER, ""):
        take(desk, view)
        air.wait_for_function("window.crossing")
        air.evaluate("() => { window.crossing = false; window.held = document.getAnimations(); }")
        frames += transition(air, QUICK)
        air.evaluate("() => held.forEach((each) => each.finish())")  # those set past their end are in no list
        assert air.evaluate(_BARE) == []
        air.wait_for_function(
            "count => document.querySelectorAll('[data-part=stage]').length === count", arg=int(view != "")
        )
    desk.close()
    assert len(frames) > 5 * len(ORDER)
    assert flashes_a_second(np.array(frames), rate=QUICK) <= MOST
