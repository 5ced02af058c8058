"""No transition of any view flashes (WCAG 2.2, 2.3.1; ITU-R BT.1702), and the measure sees a page that does."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from pages.flashes import COLUMNS, MOST, ROWS, Luminance, flashes_a_second, luminance
from pages.heats import Scene
from pages.measure import settle
from pages.test_views import VIEWS, frame_of, open_view

pytestmark = pytest.mark.slow

RATE, QUICK = 50, 25
"""Pictures a second; the test command takes half of them, which still hold four of each flash that is one too many."""
SIZE = (480, 270)
CHANGES = [Scene(lanes=20, clock_ms=390_000), Scene(lanes=20, name="finishing", clock_ms=899_000)]
"""From one to the next leaders change, rows move and lanes finish."""
MORE = [
    Scene(lanes=20, name="waiting"),
    Scene(lanes=20, clock_ms=390_000),
    Scene(lanes=20, clock_ms=402_000),
    Scene(lanes=20, name="tie", clock_ms=402_000),
    Scene(lanes=20, name="withdrawn", clock_ms=402_000),
    Scene(lanes=20, name="finishing", clock_ms=899_000),
    Scene(lanes=20, name="capped"),
]

_HOLD = """() => { for (const each of document.getAnimations()) { each.pause(); each.currentTime = 0; } }"""
_LONGEST = """() => Math.max(0, ...document.getAnimations().map((each) => each.effect.getComputedTiming().endTime))"""
_AT = """(ms) => { for (const each of document.getAnimations()) each.currentTime = ms; }"""
_END = """() => { for (const each of document.getAnimations()) each.finish(); }"""


@pytest.fixture(scope="module")
def moving(browser: Browser) -> Iterator[Page]:
    """A page on which things move, over a white picture: there a dark graphic makes the greatest change."""
    context = browser.new_context(bypass_csp=True, reduced_motion="no-preference")
    page = context.new_page()
    page.add_init_script(
        "addEventListener('DOMContentLoaded', () => (document.documentElement.style.background = '#fff'))"
    )
    yield page
    context.close()


def transition(page: Page, rate: int) -> list[Luminance]:
    """Take what moves now, so many pictures a second: everything that moves is set to each moment in turn."""
    page.evaluate(_HOLD)
    frames = []
    for at_ms in range(0, round(page.evaluate(_LONGEST)) + 20, 1000 // rate):
        page.evaluate(_AT, at_ms)
        frames.append(luminance(page.screenshot(type="jpeg", quality=90)))
    page.evaluate(_END)
    return frames


def show(page: Page, address: str, name: str, scenes: list[Scene], rate: int) -> Luminance:
    """From nothing to the picture, through every scene without a pause between, and away again."""
    frames = [np.ones((ROWS, COLUMNS))]
    wire = open_view(page, address, name, frame_of(scenes[0], name), SIZE)
    frames += transition(page, rate)
    for number, scene in enumerate(scenes[1:]):
        shown = frame_of(scene, name)
        shown["heat"]["id"] = f"h{number}"
        wire.show(shown)
        settle(page)
        frames += transition(page, rate)
    page.evaluate("() => document.querySelector('[data-part=stage]').toggleAttribute('data-cleared', true)")
    return np.array(frames + transition(page, rate))


@pytest.mark.parametrize("name", VIEWS)
def test_a_view_never_flashes(moving: Page, address: str, name: str) -> None:
    """Coming to the air, one great change, and leaving the air."""
    assert flashes_a_second(show(moving, address, name, CHANGES, QUICK), rate=QUICK) <= MOST


@pytest.mark.long
@pytest.mark.parametrize("name", VIEWS)
def test_no_change_of_a_view_flashes(moving: Page, address: str, name: str) -> None:
    """Every kind of change."""
    assert flashes_a_second(show(moving, address, name, MORE, RATE), rate=RATE) <= MOST


def test_a_flashing_page_is_caught(moving: Page, address: str) -> None:
    """The measure itself: a picture made to blink five times a second is found to."""
    open_view(moving, address, "track", frame_of(CHANGES[0]), SIZE)
    moving.evaluate(
        """() => document.querySelector('[data-part=stage]').animate(
          [{ opacity: 1 }, { opacity: 0, offset: 0.5 }, { opacity: 1 }], { duration: 200, iterations: 6 })"""
    )
    assert flashes_a_second(np.array(transition(moving, QUICK)), rate=QUICK) > MOST


def blink(hertz: float, *, low: float = 0.1, high: float = 0.4, part: float = 1.0, seconds: float = 2.0) -> Luminance:
    """Give a picture of which a part at the left goes up and down."""
    frames = np.full((round(seconds * RATE), ROWS, COLUMNS), low)
    up = (np.arange(len(frames)) * hertz * 2 / RATE).astype(int) % 2 == 1
    frames[up, :, : round(COLUMNS * part)] = high
    return frames


@pytest.mark.parametrize(
    ("frames", "flashes"),
    [
        (blink(3), 3),
        (blink(5), 5),
        (blink(5, high=0.19), 0),
        (blink(5, low=0.82, high=0.99), 0),
        (blink(5, part=0.05), 0),
        (blink(5, part=0.1), 5),
        (np.linspace(0, 1, 100)[:, None, None] * np.ones((ROWS, COLUMNS)), 0.5),
    ],
    ids=["three", "five", "too-little", "too-bright", "too-small", "a-quarter-of-a-field", "one-slow-fade"],
)
def test_flashes_are_counted_as_the_standard_says(frames: Luminance, flashes: float) -> None:
    """Steps of 0.10 with the darker below 0.80, over 25 % of a field a third as wide and high as the picture."""
    assert flashes_a_second(frames, rate=RATE) == pytest.approx(flashes, abs=0.5)
