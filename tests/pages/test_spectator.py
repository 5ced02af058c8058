"""The spectator page on a phone: every state in both lights, no fault, nothing that jumps, only the feed asked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from pages.contrast import pale
from pages.heats import Scene, frame
from pages.public_feed import Feed

pytestmark = pytest.mark.slow
AXE = Path(__file__).parents[1] / "overlay" / "node_modules" / "axe-core" / "axe.min.js"
SCENES = {
    "long names": Scene(names="forty"),
    "twenty lanes, two divisions": Scene(lanes=20, divisions=2),
    "a tie": Scene(name="tie"),
    "an empty heat": Scene(lanes=0),
    "before the start": Scene(name="waiting"),
    "over, in rehearsal": Scene(name="capped", mode="rehearsal"),
    "right to left": Scene(names="rtl"),
}
_SHIFTS = """
  window.shifts = [];
  new PerformanceObserver((list) => {
    for (const each of list.getEntries()) {
      const moved = each.sources.map(({ node }) => node?.parentElement?.className ?? String(node)).join(", ");
      window.shifts.push(`${each.value}: ${moved}`);
    }
  }).observe({ type: "layout-shift", buffered: true });
"""


@pytest.fixture(name="phone", scope="module")
def _phone(browser: Browser) -> Iterator[Page]:
    """A phone whose page is opened anew by each test."""
    context = browser.new_context(viewport={"width": 360, "height": 640}, has_touch=True, bypass_csp=True)
    context.add_init_script(_SHIFTS)
    yield context.new_page()
    context.close()


def look(phone: Page, address: str, scene: Scene) -> Feed:
    """Open the page with a picture."""
    phone.unroute_all()
    feed = Feed(phone, frame(scene, "public"))
    phone.goto(f"{address}/public/")
    expect(phone.locator("[data-part=body]")).to_be_visible()
    return feed


def seen(phone: Page) -> list[str]:
    """Give what is too pale, and what is wider than the screen."""
    wide = phone.evaluate("() => document.documentElement.scrollWidth > innerWidth")
    return pale(phone) + ["wider than the screen"] * wide


def wrong(phone: Page) -> list[str]:
    """Give what axe-core finds besides."""
    phone.add_script_tag(path=AXE)
    found: dict[str, Any] = phone.evaluate("() => axe.run(document)")
    return [each["id"] for each in found["violations"]] + seen(phone)


@pytest.mark.parametrize("name", SCENES)
def test_every_state_is_without_fault_in_both_lights(phone: Page, address: str, name: str) -> None:
    """axe-core 4.10 finds nothing, letters have 4.5 : 1 (WCAG 2.2, 1.4.3), nothing is wider than the phone.

    The lights differ in colours alone, so axe-core looks at one.
    """
    phone.emulate_media(color_scheme="dark", reduced_motion="reduce")
    look(phone, address, SCENES[name])
    assert wrong(phone) == []
    phone.emulate_media(color_scheme="light")
    expect(phone.locator("body")).to_have_attribute("data-theme", "daylight")
    assert seen(phone) == []


def test_the_overall_standing_is_there(phone: Page, address: str) -> None:
    """Everybody's place and points overall, and who had another place before the event."""
    feed = look(phone, address, Scene(lanes=6))
    [standing] = feed.picture["standings"].values()
    rows = phone.locator("[data-part=standings] .row")
    expect(rows).to_have_count(len(standing["order"]))
    moved = [row for row in standing["rows"].values() if row["before"]["place"] != row["place"]]
    expect(rows.filter(has_text="was ")).to_have_count(len(moved))
    last = standing["rows"][standing["order"][-1]]
    texts = [rows.last.locator(f"[data-part={name}]").text_content() for name in ("place", "name", "gap", "figure")]
    assert texts == [str(last["place"]), last["name"], f"was {last['before']['place']}", str(last["total"])]


def test_axe_sees_a_fault(phone: Page, address: str) -> None:
    """The check can fail: letters in the colour of their ground are found, and what is too wide."""
    look(phone, address, Scene())
    phone.add_style_tag(content=".row-figure { color: var(--mat) !important; } main { width: 400px; }")
    phone.evaluate("() => document.querySelector('main').append(document.createElement('img'))")
    found = wrong(phone)
    assert {"image-alt", "wider than the screen"} <= set(found)
    assert [each for each in found if "row-figure" in each]


def test_nothing_jumps_when_places_change(phone: Page, address: str) -> None:
    """No layout shift (Layout Instability API) from the first byte on, when rows come and change their places."""
    phone.emulate_media(reduced_motion="no-preference")
    feed = look(phone, address, Scene(lanes=6))
    later = feed.picture | {"order": feed.picture["order"][::-1]}
    feed.show(later)
    first = later["lanes"][str(later["order"][0])]
    expect(phone.locator("[data-part=lanes] [data-part=name]").first).to_have_text(first["name"])
    phone.wait_for_timeout(800)
    assert phone.evaluate("() => window.shifts") == []
    phone.evaluate("() => { document.querySelector('.head').style.marginTop = '40px'; }")
    phone.wait_for_function("() => window.shifts.length > 0")


def test_it_asks_for_the_feed_alone(phone: Page, address: str) -> None:
    """No websocket, no key, no query; each segment once, and the list at most once a second."""
    phone.emulate_media(reduced_motion="reduce")
    sockets: list[str] = []
    phone.once("websocket", lambda socket: sockets.append(socket.url))
    feed = look(phone, address, Scene())
    phone.wait_for_timeout(3300)
    lists = [url for url in feed.asked if url == f"{address}/public/newest"]
    segments = [url for url in feed.asked if url == f"{address}/public/segments/1-test"]
    assert 3 <= len(lists) <= 4
    assert [len(segments), len(feed.asked) - len(lists)] == [1, 1]
    assert sockets == []


def test_a_lost_connection_is_said_and_mended(phone: Page, address: str) -> None:
    """The last picture stays, with its time; when the connection is back the page goes on by itself."""
    phone.emulate_media(reduced_motion="reduce")
    feed = look(phone, address, Scene())
    link, name = phone.locator("[data-part=link]"), phone.locator("[data-part=lanes] [data-part=name]").first
    expect(link).to_have_text("Connected")
    feed.up = False
    expect(link).to_contain_text("No connection: last picture")
    expect(name).to_be_visible()
    assert wrong(phone) == []
    feed.up = True
    expect(link).to_have_text("Connected", timeout=10_000)


def test_who_is_followed_is_kept_on_the_phone(phone: Page, address: str) -> None:
    """A touch follows, also after a reload; another touch ends it; who is not shown any more is not named."""
    phone.emulate_media(reduced_motion="reduce")
    scene = Scene(lanes=4)
    picture = frame(scene, "public")
    last = picture["lanes"][str(picture["order"][-1])]
    look(phone, address, scene)
    row = phone.locator("[data-part=lanes] [data-part=pick]").last
    row.tap()
    expect(row).to_have_attribute("aria-pressed", "true")
    feed = look(phone, address, scene)
    expect(phone.locator("[data-part=card-name]")).to_have_text(last["name"])
    held = {number: lane for number, lane in picture["lanes"].items() if lane is not last}
    tables = {
        division: table
        | {
            "order": [entry for entry in table["order"] if entry != last["entry"]],
            "rows": {entry: row for entry, row in table["rows"].items() if entry != last["entry"]},
        }
        for division, table in picture["ranking"].items()
    }
    feed.show(picture | {"lanes": held, "order": picture["order"][:-1], "ranking": tables})
    expect(phone.locator("[data-part=card-name]")).to_have_text("Whom you follow is not shown now")
    assert last["name"] not in phone.locator("[data-part=lanes]").inner_text()
