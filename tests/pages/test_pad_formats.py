"""The lane pad in the formats that are more than a count, in a real browser against a real server."""

from __future__ import annotations

from collections.abc import Iterator
from time import time_ns

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from pages.floor import Floor, Heat, box_of, open_floor, open_pad, part, phone, press
from pages.reuse import wipe

pytestmark = pytest.mark.slow

SIZES = {"small phone": (320, 568), "phone": (390, 844), "phone on its side": (740, 360), "tablet": (820, 1180)}
THUMB_PX = 44
"""The least side of a target: WCAG 2.2, success criterion 2.5.5 (enhanced)."""


@pytest.fixture(scope="module")
def floor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Floor]:
    """One server for all tests here; each takes a heat of its own."""
    with open_floor(tmp_path_factory.mktemp("floor"), own_rules=True) as opened:
        yield opened


@pytest.fixture(scope="module")
def shared_phone(browser: Browser) -> Iterator[BrowserContext]:
    """The phone that one test after the other uses."""
    opened = phone(browser)
    yield opened
    opened.close()


@pytest.fixture
def context(shared_phone: BrowserContext, floor: Floor) -> Iterator[BrowserContext]:
    """A phone with nothing on it."""
    yield shared_phone
    wipe(shared_phone, floor.server.base)


def started(floor: Floor, kind: str, *, ago_ms: int = 0) -> Heat:
    """A heat of a kind whose clock has run for a while."""
    heat = floor.heat(kind)
    heat.say("heat_started", unix_ms=time_ns() // 1_000_000 - ago_ms)
    return heat


def hold(pad: Page, name: str, then: Locator, text: str) -> None:
    """Hold a part until the page shows what follows from it."""
    press(pad, name)
    expect(then).to_have_text(text)
    pad.mouse.up()


def hold_member(pad: Page, member: str) -> None:
    """Hold a key of the team until it is the one that is on."""
    key = pad.locator(f"[data-member='{member}']")
    box = key.bounding_box()
    assert box is not None
    pad.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    pad.mouse.down()
    expect(key).to_have_attribute("aria-pressed", "true")
    pad.mouse.up()


def test_a_lift_is_declared_and_judged_on_the_pad(floor: Floor, context: BrowserContext) -> None:
    """The load is stepped up, declared, called good; the next one is missed; the table has both and the best."""
    heat = started(floor, "lift")
    pad = open_pad(context, heat.pad_link())
    expect(part(pad, "ask")).to_contain_text("Hold to declare 20 kg")
    for step in ("+10", "+10", "+2"):
        pad.get_by_role("button", name=step, exact=True).tap()
    expect(part(pad, "number")).to_have_text("42")
    expect(part(pad, "ask")).to_contain_text("10 + 1 a side")
    hold(pad, "surface", part(pad, "ask"), "Hold for a good lift")
    hold(pad, "surface", part(pad, "next"), "42")
    expect(part(pad, "proof")).to_have_text("table 42 ✓")
    hold(pad, "surface", part(pad, "ask"), "Hold for a good lift")
    hold(pad, "no-rep", part(pad, "ask"), "All attempts are taken")
    expect(part(pad, "proof")).to_have_text("table 42 ✓ 44 ✗")
    assert heat.lane()["result"] == "42 kg"
    judged = [each["fact"] for each in heat.facts() if each.get("lane") == 1]
    assert judged == ["attempt_declared", "attempt_made", "attempt_declared", "attempt_failed"]


def test_a_lift_judged_without_a_link_reaches_the_table_later(floor: Floor, context: BrowserContext) -> None:
    """Declared and judged offline, undone and judged again: each fact is in the journal once, in order."""
    heat = started(floor, "lift")
    pad = open_pad(context, heat.pad_link())
    context.set_offline(True)
    hold(pad, "surface", part(pad, "ask"), "Hold for a good lift")
    hold(pad, "no-rep", part(pad, "no-reps"), "1")
    hold(pad, "undo", part(pad, "no-reps"), "0")
    hold(pad, "surface", part(pad, "next"), "20")
    expect(part(pad, "proof")).to_contain_text("4 waiting")
    context.set_offline(False)
    expect(part(pad, "proof")).to_have_text("table 20 ✓")
    assert heat.lane()["result"] == "20 kg"
    assert [each["sequence"] for each in heat.facts() if each.get("lane") == 1] == [1, 2, 3, 4]


def test_what_the_table_declares_is_judged_on_the_pad(floor: Floor, context: BrowserContext) -> None:
    """A load declared at the table is on the pad, to be judged there."""
    heat = started(floor, "lift")
    pad = open_pad(context, heat.pad_link())
    heat.say("attempt_declared", lane=1, load_milli=45_000)
    expect(part(pad, "number")).to_have_text("45")
    hold(pad, "surface", part(pad, "next"), "45")
    assert heat.lane()["result"] == "45 kg"


def test_a_relay_passes_the_turn(floor: Floor, context: BrowserContext) -> None:
    """Holding the other member's key passes the turn; reps then are theirs; undo takes the exchange back."""
    heat = started(floor, "relay")
    pad = open_pad(context, heat.pad_link())
    part(pad, "surface").tap()
    pad.locator("[data-member='2']").tap()
    expect(part(pad, "message")).to_have_text("Hold to change")
    hold_member(pad, "2")
    part(pad, "surface").tap()
    part(pad, "surface").tap()
    expect(part(pad, "proof")).to_have_text("table 3")
    assert [each["member"] for each in heat.facts("exchanged")] == [2]
    for struck in ("rep 3", "rep 2", "exchange"):
        hold(pad, "undo", part(pad, "message"), f"Undone: {struck}")
    expect(pad.locator("[data-member='1']")).to_have_attribute("aria-pressed", "true")
    expect(part(pad, "proof")).to_have_text("table 1")


def test_two_judges_count_a_synchro_pair(floor: Floor, browser: Browser) -> None:
    """Each judge counts one partner on a phone of their own: the lane has what both have done."""
    heat = started(floor, "synchro")
    phones = [phone(browser), phone(browser)]
    one, two = (open_pad(each, heat.pad_link()) for each in phones)
    hold_member(one, "1")
    hold_member(two, "2")
    for _ in range(3):
        part(one, "surface").tap()
    part(two, "surface").tap()
    for pad in (one, two):
        expect(part(pad, "number")).to_have_text("1")
        expect(pad.locator("[data-member='1'] [data-part=member-note]")).to_have_text("3")
        expect(part(pad, "message")).not_to_contain_text("The table set")
    hold(one, "undo", part(one, "message"), "Undone: rep 3")
    assert heat.lane()["scored_reps"] == 1
    for each in phones:
        each.close()


def test_a_closed_window_locks_the_pad(floor: Floor, context: BrowserContext) -> None:
    """A ladder's lane that is late is out on the pad, and for everybody else, without anybody saying so."""
    heat = started(floor, "ladder", ago_ms=61_000)
    pad = open_pad(context, heat.pad_link())
    expect(part(pad, "ask")).to_have_text("Out: the window of bar 1 closed at 1:00")
    assert heat.lane()["status"] == "timed"


def test_a_rest_takes_no_touch(floor: Floor, context: BrowserContext) -> None:
    """Between two pieces the surface is locked and says when the next one starts."""
    heat = started(floor, "pieces", ago_ms=61_000)
    pad = open_pad(context, heat.pad_link())
    expect(part(pad, "ask")).to_have_text("Rest. Piece 2 starts at 21:00")
    expect(part(pad, "surface")).to_be_disabled()


@pytest.mark.parametrize("kind", ["lift", "relay", "synchro"])
@pytest.mark.parametrize("size", SIZES)
def test_every_key_is_safe_for_a_thumb(floor: Floor, context: BrowserContext, kind: str, size: str) -> None:
    """On every screen all keys are inside it, high and wide enough, and the surface keeps most of the room."""
    width, height = SIZES[size]
    floor.table.say("heat_started", heat=f"{kind}-6", unix_ms=time_ns() // 1_000_000)
    heat = Heat(f"{kind}-6", floor.table, floor.server)
    pad = open_pad(context, heat.pad_link(), width=width, height=height)
    buttons = pad.locator("main button:visible").all()
    boxes = [box for box in (button.bounding_box() for button in buttons) if box is not None]
    assert len(boxes) >= 5
    for box in boxes:
        assert box["x"] >= 0 and box["x"] + box["width"] <= width + 0.5
        assert box["y"] >= 0 and box["y"] + box["height"] <= height + 0.5
        assert min(box["width"], box["height"]) >= THUMB_PX
    surface = box_of(pad, "surface")
    assert surface["width"] * surface["height"] >= 0.3 * width * height
