"""The call as it is worked: by keys alone, with a finger, and with cues that come and go."""

from __future__ import annotations

import time
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from core.called import women
from pages.floor import part
from pages.measure import faults
from pages.stub import Wire

pytestmark = pytest.mark.slow

AT_MS = 442_000


def cue(key: str, at_ms: int, line: str, *, lives_ms: int = 60_000) -> dict[str, Any]:
    """A cue as the frame has it."""
    return {
        "key": key,
        "kind": "lead",
        "weight": 80,
        "at_ms": at_ms,
        "until_ms": at_ms + lives_ms,
        "lanes": [6],
        "line": line,
    }


def demo(*cues: dict[str, Any]) -> dict[str, Any]:
    """The demo heat at 7:22, running from now on."""
    frame = women(AT_MS)
    clock = frame["clock"] | {"zero_unix_ms": round(time.time() * 1000) - AT_MS, "zero_at_ms": 0}
    return frame | {"clock": clock, "cues": list(cues), "mode": "rehearsal", "speed": 1}


def opened(page: Page, address: str, frame: dict[str, Any]) -> Wire:
    """Open the page on a laptop."""
    page.set_viewport_size({"width": 1366, "height": 768})
    wire = Wire(page, frame)
    page.goto(f"{address}/call/index.html")
    expect(page.locator("[data-part=row]")).to_have_count(len(frame["lanes"]))
    return wire


@pytest.mark.parametrize(
    "size", [(1366, 768), (1180, 820), (1024, 768), (820, 1180)], ids=["laptop", "lying", "small", "upright"]
)
@pytest.mark.parametrize("theme", ["daylight", "dark"])
def test_facts_fit_beside_the_lanes(page: Page, address: str, size: tuple[int, int], theme: str) -> None:
    """On a laptop and on a tablet either way, in daylight and in dark colours, nothing spills with the facts open."""
    opened(page, address, demo(cue("a", AT_MS - 9_000, "Okwuedi is catching the leader, Karasugawa.")))
    page.evaluate(f"() => localStorage.setItem('tallywire.gaps.theme', '{theme}')")
    page.reload()
    expect(page.locator(f"[data-theme={theme}] [data-part=row]")).to_have_count(10)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    assert faults(page, inset=0.0) == []
    for key in ("ArrowDown", "Enter"):
        page.keyboard.press(key)
    expect(part(page, "facts")).to_be_visible()
    assert part(page, "facts").evaluate("(box) => box.scrollHeight - box.clientHeight") <= 1
    assert faults(page, inset=0.0) == []


def test_cues_are_asked_for_in_the_pages_language(page: Page, address: str) -> None:
    """A page in Spanish asks for the call in Spanish."""
    wire = Wire(page, demo())
    page.goto(f"{address}/call/index.html?lang=es")
    expect(page.locator("[data-part=row]")).to_have_count(10)
    assert wire.languages == ["es"]


def test_facts_come_by_keys_alone(page: Page, address: str) -> None:
    """Down twice and enter shows the facts of the second; down again those of the third; escape closes them.

    By hand: Okwuedi is 13 points behind Solvåger. Sixteenth against twentieth is 52 - 39 = 13 and count-back then
    decides for the better place, and four places are worth 13 or more anywhere; seventeenth against twentieth is 9.
    """
    opened(page, address, demo())
    expect(part(page, "facts")).to_be_hidden()
    for key in ("ArrowDown", "ArrowDown", "Enter"):
        page.keyboard.press(key)
    expect(part(page, "facts-name")).to_contain_text("Tamsin Okwuedi")
    expect(part(page, "facts-list")).to_contain_text("Solvåger\u2069 by 4 places")
    page.keyboard.press("ArrowDown")
    expect(part(page, "facts-name")).to_contain_text("Łucja Wrzosnicka")
    page.keyboard.press("Escape")
    expect(part(page, "facts")).to_be_hidden()


def test_a_tap_on_a_row_opens_its_facts_and_another_closes_them(page: Page, address: str) -> None:
    """A tablet has no arrow keys."""
    opened(page, address, demo())
    row = page.locator("[data-part=row][data-lane='5']")
    row.click()
    expect(part(page, "facts-name")).to_contain_text("Lane 5")
    row.click()
    expect(part(page, "facts")).to_be_hidden()


def test_cues_stand_newest_first_and_go_when_they_are_old(page: Page, address: str) -> None:
    """What has outlived its time is gone, although no newer frame came; then the page says that all is quiet."""
    # Eight seconds from now both are too old: so long the page may take to open on a busy machine.
    old, new = cue("a", AT_MS - 9_000, "Older", lives_ms=17_000), cue("b", AT_MS - 1_000, "Newer", lives_ms=9_000)
    opened(page, address, demo(new, old))
    expect(part(page, "lines").locator("li")).to_have_text(["7:21Newer", "7:13Older"])
    expect(part(page, "lines").locator("li")).to_have_count(0)
    expect(part(page, "no-cues")).to_be_visible()


def test_a_danger_of_the_cap_is_told_by_number_and_colour(page: Page, address: str) -> None:
    """Only lanes that are more likely over the cap than inside it are marked, and every chance is written out."""
    frame = demo()
    opened(page, address, frame)
    marked = page.locator("[data-risk=likely]").evaluate_all("rows => rows.map((row) => row.dataset.lane).sort()")
    lanes = frame["lanes"].items()
    assert marked == sorted(number for number, lane in lanes if lane["outlook"]["inside_cap"] < 0.5)
    assert marked
    for number, lane in lanes:
        cell = page.locator(f"[data-lane='{number}'] [data-part=cap]")
        share = lane["outlook"]["inside_cap"]
        bounds = {0.005: "<1 %", 0.995: ">99 %"}
        expect(cell).to_have_text(bounds.get(share, f"{round(100 * share)} %"))


def test_a_lane_that_is_put_on_hold_while_it_is_followed_takes_its_facts_along(page: Page, address: str) -> None:
    """Nothing of the lane stays on the page, its open facts included."""
    frame = demo()
    wire = opened(page, address, frame)
    page.locator("[data-part=row][data-lane='5']").click()
    lanes = {number: lane for number, lane in frame["lanes"].items() if number != "5"}
    wire.show(frame | {"lanes": lanes, "order": [lane for lane in frame["order"] if lane != 5]})
    expect(part(page, "facts")).to_be_hidden()
    expect(page.locator("[data-part=row]")).to_have_count(9)
