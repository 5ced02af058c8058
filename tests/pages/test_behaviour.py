"""What the pictures do: marks, a lost link, a change of places, names that fit, keys."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from pages.heats import NAMES, Scene, frame
from pages.measure import faults
from pages.stub import OVERLAY, Wire
from pages.test_pictures import PICTURES, look_at

pytestmark = pytest.mark.slow

FULL = (1920, 1080)


def open_air(page: Page, address: str, scene: Scene, query: str = "") -> Wire:
    """Open the on-air page with a query and wait for its rows."""
    wire = Wire(page, frame(scene))
    page.goto(f"{address}/air/index.html{query}")
    expect(page.locator("[data-part=row]")).to_have_count(scene.lanes)
    return wire


def names_by_place(page: Page) -> list[str]:
    """Give the names on the air from the first column's top to the last column's end."""
    cells: list[str] = page.evaluate(
        """() => [...document.querySelectorAll('[data-part=row]')]
          .map((row) => [row.getBoundingClientRect(), row.querySelector('[data-part=name]').textContent])
          .sort(([a], [b]) => a.left - b.left || a.top - b.top).map(([, name]) => name)"""
    )
    return cells


@pytest.mark.parametrize("name", PICTURES)
def test_live_numbers_are_called_unofficial(page: Page, address: str, name: str) -> None:
    """The word is on every picture, and nothing says rehearsal."""
    look_at(page, address, name, Scene(), FULL)
    expect(page.get_by_text("Unofficial").first).to_be_visible()
    expect(page.locator("[data-part=rehearsal]")).to_be_hidden()


@pytest.mark.parametrize("name", PICTURES)
def test_a_rehearsal_says_so(page: Page, address: str, name: str) -> None:
    """The server's mode puts the mark on, in words."""
    look_at(page, address, name, Scene(mode="rehearsal"), FULL)
    expect(page.locator("[data-part=rehearsal]")).to_be_visible()
    expect(page.locator("[data-part=rehearsal]")).to_contain_text("not live", ignore_case=True)


def test_the_air_is_transparent(page: Page, address: str) -> None:
    """Nothing is painted behind the deck, and the colour scheme lets nobody paint there."""
    open_air(page, address, Scene())
    styles: list[str] = page.evaluate(
        """() => [document.documentElement, document.body, document.querySelector('[data-part=stage]')]
          .map((element) => getComputedStyle(element).backgroundColor)"""
    )
    assert styles == ["rgba(0, 0, 0, 0)"] * 3
    assert page.evaluate("() => getComputedStyle(document.documentElement).colorScheme") == "light only"


def test_a_screen_of_its_own_has_a_ground(page: Page, address: str) -> None:
    """With `ground` the page is opaque, in the colour of the mat."""
    open_air(page, address, Scene(), "?ground")
    assert page.evaluate("() => getComputedStyle(document.body).backgroundColor") == "rgb(20, 21, 15)"


def test_the_air_keeps_the_last_picture_and_then_clears(page: Page, address: str) -> None:
    """Without a link the picture stays for the hold, then goes without any message, and comes back with the link."""
    wire = open_air(page, address, Scene(), "?hold=0.6")
    air = page.locator("[data-part=air]")
    wire.drop()
    expect(page.locator("[data-part=stage]")).to_be_visible()
    assert air.get_attribute("data-cleared") is None
    expect(air).to_have_attribute("data-cleared", "")
    assert "connect" not in page.locator("body").inner_text().lower()
    wire.up = True
    expect(air).not_to_have_attribute("data-cleared", "", timeout=10_000)


def test_a_hold_of_nothing_never_clears(page: Page, address: str) -> None:
    """?hold=0 keeps the picture for as long as it takes."""
    wire = open_air(page, address, Scene(), "?hold=0")
    wire.drop()
    page.wait_for_timeout(400)
    assert page.locator("[data-part=air]").get_attribute("data-cleared") is None


@pytest.mark.parametrize("view", ["..%2Fheat", "no-such-view"])
def test_a_wrong_view_is_nothing_on_the_air(browser: Browser, address: str, view: str) -> None:
    """A mistake in the address is told on the console alone; the picture stays empty."""
    with browser.new_page() as page:
        Wire(page, frame(Scene()))
        with page.expect_console_message(lambda message: message.type == "error"):
            page.goto(f"{address}/air/index.html?view={view}")
        expect(page.locator("[data-part=stage]")).to_be_hidden()


def test_rows_follow_the_places(page: Page, address: str) -> None:
    """A later frame of the same heat sorts the rows anew, a second later at most."""
    wire = open_air(page, address, Scene(lanes=4, clock_ms=60_000))
    later = frame(Scene(lanes=4, clock_ms=402_000))
    by_place = [later["lanes"][str(lane)]["name"] for lane in later["order"]]
    wire.show(later)
    page.wait_for_function(
        "name => document.querySelector('[data-part=row][data-leads] [data-part=name]').textContent === name",
        arg=by_place[0],
    )
    assert names_by_place(page) == by_place


@pytest.mark.parametrize(
    ("names", "lanes", "looks"),
    [
        ("short", 10, {"normal"}),
        ("forty", 10, {"normal", "narrow", "narrowest"}),
        ("forty", 20, {"normal", "narrow", "narrowest", "least"}),
    ],
)
def test_long_names_go_down_the_stated_steps(page: Page, address: str, names: str, lanes: int, looks: set[str]) -> None:
    """A short name is whole and at its normal width; long ones get narrower, then short, then smaller."""
    open_air(page, address, Scene(names=names, lanes=lanes))
    found: list[list[str]] = page.evaluate(
        """() => [...document.querySelectorAll('[data-part=row] [data-part=name]')]
          .map((name) => [name.dataset.fit, name.textContent])"""
    )
    assert {fit for fit, _ in found} <= looks
    assert {text for _, text in found} <= {form for pair in NAMES[names] for form in pair}


def test_the_board_speaks_before_the_start(page: Page, address: str) -> None:
    """Lane introductions with where they are from, and that the start is awaited."""
    look_at(page, address, "board", Scene(name="waiting", lanes=5), FULL)
    expect(page.get_by_text("Waiting for the start")).to_be_visible()
    expect(page.get_by_text("Northside Hall").first).to_be_visible()
    expect(page.locator("[data-leads]")).to_have_count(0)


def test_the_board_keeps_lanes_as_on_the_floor(page: Page, address: str) -> None:
    """Lanes 1, 2, 3 … go down the first column and then the second, whichever lane leads."""
    look_at(page, address, "board", Scene(lanes=20), FULL)
    lanes = page.locator("[data-part=row] [data-part=lane]").all_inner_texts()
    assert lanes == [str(lane) for lane in range(1, 21)]


def test_the_leader_on_the_board_is_seen_without_colour(page: Page, address: str) -> None:
    """The leader's row is light with dark text where the others are dark with light text, and says 1st."""
    look_at(page, address, "board", Scene(lanes=6), FULL)
    light = r"row => getComputedStyle(row).backgroundColor.match(/\d+/g).slice(0, 3).reduce((a, b) => a + +b, 0)"
    leader = page.locator("[data-part=row][data-leads]")
    expect(leader).to_have_count(1)
    expect(leader.locator("[data-part=place]")).to_have_text("1st")
    assert leader.evaluate(light) > 400
    assert page.locator("[data-part=row]:not([data-leads])").first.evaluate(light) < 100


def test_the_board_says_calmly_that_the_link_is_lost(page: Page, address: str) -> None:
    """The picture stays, with a note and the time of the last numbers; the note goes with the link's return."""
    wire = look_at(page, address, "board", Scene(), FULL)
    note = page.locator("[data-part=link]")
    expect(note).to_have_text("")
    wire.drop()
    expect(note).to_have_text(re.compile(r"^Reconnecting: last picture \d\d:\d\d:\d\d$"))
    expect(page.locator("[data-part=row]")).to_have_count(10)
    assert faults(page) == []
    wire.up = True
    expect(note).to_have_text("", timeout=10_000)


@pytest.mark.parametrize("size", [(1280, 720), FULL, (3840, 2160)])
@pytest.mark.parametrize("lanes", [4, 10, 20])
def test_the_board_s_letters_reach_the_last_row(page: Page, address: str, lanes: int, size: tuple[int, int]) -> None:
    """Capitals of names, counts, places and lanes are 37 of 1080 lines high (ISO 9241-303: 16′ at 5 m, 55 inches)."""
    look_at(page, address, "board", Scene(lanes=lanes), size)
    smallest: float = page.evaluate(
        """() => Math.min(...[...document.querySelectorAll('[data-part=row] [data-part]')]
          .filter((cell) => cell.textContent.trim() && cell.dataset.fit !== 'least')
          .map((cell) => parseFloat(getComputedStyle(cell).fontSize)))"""
    )
    assert smallest * 0.702 >= 37 * size[1] / 1080


def test_the_face_is_as_high_as_the_look_says(page: Page, address: str) -> None:
    """The capital H of the shipped face is 0.702 of the size, and its figures are all of one width."""
    look_at(page, address, "board", Scene(lanes=1), FULL)
    measured: dict[str, Any] = page.evaluate(
        """() => {
          const pen = document.createElement('canvas').getContext('2d');
          pen.font = '600 1000px Asap';
          const element = document.createElement('span');
          document.body.append(element);
          const widths = [...'0123456789'].map((figure) => {
            element.textContent = figure.repeat(20);
            return element.getBoundingClientRect().width;
          });
          return { capital: pen.measureText('H').actualBoundingBoxAscent, widths };
        }"""
    )
    assert measured["capital"] == pytest.approx(702, abs=2)
    assert max(measured["widths"]) - min(measured["widths"]) < 0.5


def test_the_gap_feed_names_the_next_number(page: Page, address: str) -> None:
    """The next cumulative number with what it ends, the reps to it, and seconds at the last rep, as on the call.

    By hand: both are in station 3.4, begun at 6:04.000 and 6:20.250, with 4.928 and 5.148 s a unit. The second has four
    units of it, since 6:40.842; the leader had four at 6:23.712, which is 17.130 s earlier.
    """
    look_at(page, address, "gaps", Scene(), (1366, 768))
    leader = page.locator("[data-part=row]").first
    expect(leader.locator("[data-part=next]")).to_have_text("66")
    expect(leader.locator("[data-part=meaning]")).to_have_text("end of round 3")
    expect(leader.locator("[data-part=to-next]")).to_have_text("3")
    expect(page.locator("[data-part=row]").nth(1).locator("[data-part=leader-time]")).to_have_text("+17.1 s")
    expect(page.locator("thead .c-time")).to_have_text(["time", "time"])
    expect(page.locator(".unofficial")).to_contain_text("* at the last mark · ≥ at least, and growing")


def test_the_feed_has_what_happened_before_the_page_was_opened(page: Page, address: str) -> None:
    """First through each round and the changes of the lead, newest first, with heat-clock times."""
    look_at(page, address, "gaps", Scene(), (1366, 768))
    lines = page.locator("[data-part=lines] li")
    expect(lines).to_have_count(4)
    expect(lines.nth(0)).to_contain_text("first through round 2 (44)")
    expect(lines.nth(2)).to_contain_text("leads with 1 rep")
    expect(lines.nth(3)).to_contain_text("Heat started")


def test_the_gap_feed_is_driven_by_keys(page: Page, address: str) -> None:
    """d changes the theme and remembers it, arrows follow a lane, escape lets it go, f takes the feed away."""
    look_at(page, address, "gaps", Scene(), (1366, 768))
    root = page.locator("html")
    before = root.get_attribute("data-theme")
    page.keyboard.press("d")
    expect(root).not_to_have_attribute("data-theme", before or "")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(page.locator("[data-followed] [data-part=place]")).to_have_text("2")
    expect(page.locator("[data-part=detail]")).to_contain_text("rounds 1: 2:")
    page.keyboard.press("Escape")
    expect(page.locator("[data-followed]")).to_have_count(0)
    page.keyboard.press("f")
    expect(page.locator("[data-part=feed]")).to_be_hidden()
    page.reload()
    expect(root).not_to_have_attribute("data-theme", before or "")


@pytest.mark.parametrize("path", sorted(OVERLAY.glob("*/index.html")), ids=lambda path: path.parent.name)
def test_a_page_has_nothing_inline(path: Path) -> None:
    """No script, style or handler inside the markup: the content policy allows none."""
    text = path.read_text(encoding="utf-8")
    assert "<style" not in text
    assert ' style="' not in text
    assert re.search(r"\son[a-z]+=", text) is None
    assert re.search(r"<script(?![^>]*\bsrc=)", text) is None
