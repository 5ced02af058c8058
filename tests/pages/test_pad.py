"""The lane pad in a real browser against a real server."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from time import time

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from pages.floor import Floor, Heat, box_of, open_floor, open_pad, part, phone, press
from pages.reuse import wipe

pytestmark = pytest.mark.slow

SIZES = {
    "small phone": (320, 568),
    "phone": (360, 740),
    "large phone": (430, 932),
    "phone on its side": (740, 360),
    "tablet": (820, 1180),
}


@pytest.fixture(scope="module")
def floor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Floor]:
    """One server for all tests here; each takes a heat of its own."""
    with open_floor(tmp_path_factory.mktemp("floor")) as opened:
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


def tap(pad: Page, times: int = 1) -> None:
    """Touch the middle of the surface."""
    for _ in range(times):
        part(pad, "surface").tap()


def hold_block(pad: Page, number: str) -> None:
    """Hold the surface until the number is there."""
    press(pad, "surface")
    expect(part(pad, "number")).to_have_text(number)
    pad.mouse.up()


def proved(pad: Page, number: int) -> None:
    """The pad shows the number, and that the table has the same."""
    expect(part(pad, "number")).to_have_text(str(number))
    expect(part(pad, "proof")).to_have_text(f"table {number}")
    expect(part(pad, "proof")).to_have_attribute("data-state", "same")


def started(floor: Floor, context: BrowserContext, event: str = "short") -> tuple[Heat, Page]:
    """A running heat and the pad of its lane 1."""
    heat = floor.heat(event)
    heat.start()
    return heat, open_pad(context, heat.pad_link())


def test_a_ring_shows_where_the_finger_was_and_moves_nothing(floor: Floor, context: BrowserContext) -> None:
    """It comes and goes: what moves has frame after frame drawn, and the next touch and the answer wait for them."""
    _, pad = started(floor, context)
    tap(pad)  # once one counts the clocks are compared and no touch is held back
    hold_block(pad, "2")  # what comes behind the block is counted by touches again
    proved(pad, 2)
    expect(part(pad, "touch")).not_to_have_attribute("data-on", "")
    shown = pad.evaluate(
        """() => {
          const [surface, ring] = ["surface", "touch"].map((name) => document.querySelector(`[data-part=${name}]`));
          const at = { pointerId: 1, isPrimary: true, bubbles: true, clientX: 90, clientY: 300 };
          surface.dispatchEvent(new PointerEvent("pointerdown", at));
          surface.dispatchEvent(new PointerEvent("pointerup", at));
          const box = ring.getBoundingClientRect();
          const off = Math.hypot(box.left + box.width / 2 - at.clientX, box.top + box.height / 2 - at.clientY);
          return [off < 5, "on" in ring.dataset, document.getAnimations().length];
        }"""
    )
    assert shown == [True, True, 0]
    expect(part(pad, "touch")).not_to_have_attribute("data-on", "")


def test_a_touch_counts_and_the_table_proves_it(floor: Floor, context: BrowserContext) -> None:
    """A touch on the surface is one rep, on the pad at once and in the table's number."""
    heat, pad = started(floor, context)
    tap(pad)
    proved(pad, 1)
    assert [fact.get("n", 1) for fact in heat.facts("rep_counted")] == [1]
    assert heat.lane()["scored_reps"] == 1


def test_nothing_is_made_of_a_touch_but_its_count(floor: Floor, context: BrowserContext) -> None:
    """No click and no mouse follow a touch (W3C Touch Events, from memory): the answer would wait for their picture."""
    _, pad = started(floor, context)
    pad.evaluate("""() => {
      window.made = [];
      const types = ["touchend", "mousedown", "mouseup", "click"];
      for (const type of types) addEventListener(type, () => made.push(type), true);
    }""")
    tap(pad)
    proved(pad, 1)
    assert pad.evaluate("made") == ["touchend"]


def test_every_edge_of_the_surface_counts(floor: Floor, context: BrowserContext) -> None:
    """Touches at the four corners of the surface, one pixel from the edge, all count."""
    _, pad = started(floor, context, "plain")
    box = box_of(pad, "surface")
    assert box["x"] == 0
    assert box["width"] == 390
    right, bottom = box["x"] + box["width"] - 1, box["y"] + box["height"] - 1
    corners = [(1, box["y"] + 1), (right, box["y"] + 1), (1, bottom), (right, bottom)]
    for x, y in corners:
        pad.touchscreen.tap(x, y)
    proved(pad, 4)


def test_a_double_touch_is_ignored_and_said(floor: Floor, context: BrowserContext) -> None:
    """A second touch inside the station's guard is no rep, and the pad says that it ignored it."""
    heat, pad = started(floor, context, "guarded")
    tap(pad, 2)
    expect(part(pad, "message")).to_have_text("Double touch ignored")
    proved(pad, 1)
    assert len(heat.facts("rep_counted")) == 1


def test_a_stray_touch_cannot_complete_a_block(floor: Floor, context: BrowserContext) -> None:
    """In a block a touch does nothing but say what to do; holding the surface completes it."""
    heat, pad = started(floor, context)
    tap(pad, 4)
    expect(part(pad, "message")).to_have_text("Too short: hold")
    proved(pad, 1)
    assert heat.facts("block_completed") == []
    hold_block(pad, "2")
    proved(pad, 2)
    assert len(heat.facts("block_completed")) == 1


def test_holding_costs_the_athlete_no_time(floor: Floor, context: BrowserContext) -> None:
    """The time of a block is that of the touch, not of the half second later when the hold is complete."""
    heat, pad = started(floor, context)
    tap(pad)
    pad.evaluate(
        """new MutationObserver(() => { window.countedUnixMs ??= Date.now(); }).observe(
            document.querySelector("[data-part=number]"), { childList: true, characterData: true, subtree: true })"""
    )
    hold_block(pad, "2")
    proved(pad, 2)
    (block,) = heat.facts("block_completed")
    counted_ms = pad.evaluate("window.countedUnixMs") - heat.frame()["clock"]["zero_unix_ms"]
    assert 0 < block["at_ms"] <= counted_ms - 450


def test_undo_takes_the_last_rep_back(floor: Floor, context: BrowserContext) -> None:
    """Holding Undo voids the last rep, for the pad and for the table."""
    heat, pad = started(floor, context)
    tap(pad)
    proved(pad, 1)
    press(pad, "undo")
    expect(part(pad, "message")).to_have_text("Undone: rep 1")
    pad.mouse.up()
    proved(pad, 0)
    (rep,) = heat.facts("rep_counted")
    (void,) = heat.facts("fact_voided")
    assert (void["voids"], void["lane"]) == (rep["id"], 1)


def test_keys_that_are_brushed_do_nothing(floor: Floor, context: BrowserContext) -> None:
    """A short touch on Undo or No-rep changes nothing and says how it is done."""
    heat, pad = started(floor, context)
    tap(pad)
    part(pad, "undo").tap()
    expect(part(pad, "message")).to_have_text("Hold to undo")
    part(pad, "no-rep").tap()
    expect(part(pad, "message")).to_have_text("Hold to call a no-rep")
    proved(pad, 1)
    assert [fact["fact"] for fact in heat.facts()] == ["heat_started", "rep_counted"]


def test_a_no_rep_with_a_reason(floor: Floor, context: BrowserContext) -> None:
    """A no-rep leaves the count, and a second tap may say why."""
    heat, pad = started(floor, context)
    tap(pad)
    press(pad, "no-rep")
    expect(part(pad, "no-reps")).to_have_text("1")
    pad.mouse.up()
    pad.get_by_role("button", name="lock-out").tap()
    proved(pad, 1)
    expect(part(pad, "choices")).to_be_hidden()
    voided = {fact["voids"] for fact in heat.facts("fact_voided")}
    standing = [fact for fact in heat.facts("no_rep_called") if fact["id"] not in voided]
    assert [fact["reason"] for fact in standing] == ["lock-out"]
    assert heat.lane()["no_reps"] == 1


def test_a_rep_goes_on_while_reasons_are_offered(floor: Floor, context: BrowserContext) -> None:
    """The next rep needs no dismissing: a touch beside the reasons counts and they go."""
    _, pad = started(floor, context)
    press(pad, "no-rep")
    expect(part(pad, "choices")).to_be_visible()
    pad.mouse.up()
    tap(pad)
    proved(pad, 1)
    expect(part(pad, "choices")).to_be_hidden()


def test_locked_until_the_start(floor: Floor, context: BrowserContext) -> None:
    """Before the start the surface takes nothing and says why; at the start it opens by itself."""
    heat = floor.heat()
    pad = open_pad(context, heat.pad_link())
    expect(part(pad, "ask")).to_have_text(f"Heat {heat.id} has not started")
    box = box_of(pad, "surface")
    pad.touchscreen.tap(box["width"] / 2, box["y"] + 50)
    heat.start()
    expect(part(pad, "surface")).to_have_attribute("data-kind", "tap")
    proved(pad, 0)
    assert heat.facts("rep_counted") == []


def test_the_work_ends_with_the_finish_time(floor: Floor, context: BrowserContext) -> None:
    """When all is done the pad locks and shows the finish as the table has it."""
    heat, pad = started(floor, context)
    for round_ends in (5, 10):
        tap(pad)
        hold_block(pad, str(round_ends - 3))
        tap(pad, 3)
    proved(pad, 10)
    lane = heat.lane()
    assert lane["status"] == "finished"
    expect(part(pad, "ask")).to_have_text(f"Finished {lane['result']}")
    expect(part(pad, "surface")).to_be_disabled()


def test_the_finish_can_be_called_on_the_last_station(floor: Floor, context: BrowserContext) -> None:
    """On the last station the judge may call the finish; with the count full it is the result."""
    heat, pad = started(floor, context)
    expect(part(pad, "finish")).to_be_hidden()
    heat.say("count_corrected", lane=1, scored_reps=9, reason="practice")
    expect(part(pad, "finish")).to_be_visible()
    press(pad, "finish")
    expect(part(pad, "message")).to_contain_text("Finish called at")
    pad.mouse.up()
    expect(part(pad, "finish")).to_be_hidden()
    proved(pad, 9)
    (call,) = heat.facts("finished")
    heat.say("count_corrected", lane=1, scored_reps=10, reason="missed one", at_ms=call["at_ms"] + 1)
    expect(part(pad, "number")).to_have_text("10")
    assert heat.lane()["finish_ms"] == call["at_ms"]


def test_a_withdrawal_asks_first_and_can_be_undone(floor: Floor, context: BrowserContext) -> None:
    """Withdrawing takes two deliberate taps more, locks the pad, and undo opens it again."""
    heat, pad = started(floor, context)
    part(pad, "more").tap()
    part(pad, "withdraw").tap()
    expect(part(pad, "confirm")).to_contain_text("Asta Norwood")
    part(pad, "confirm-no").tap()
    assert heat.facts("withdrawn") == []
    part(pad, "more").tap()
    part(pad, "withdraw").tap()
    part(pad, "confirm-injury").tap()
    expect(part(pad, "ask")).to_have_text("Withdrawn")
    expect(part(pad, "proof")).to_have_attribute("data-state", "same")  # nothing waits to be sent
    assert [fact["reason"] for fact in heat.facts("withdrawn")] == ["injury"]
    assert heat.lane()["status"] == "withdrawn"
    press(pad, "undo")
    expect(part(pad, "surface")).to_have_attribute("data-kind", "tap")
    pad.mouse.up()
    proved(pad, 0)
    assert heat.lane()["status"] == "working"


def test_counting_goes_on_without_a_link(floor: Floor, context: BrowserContext) -> None:
    """Without a network reps count and wait, and afterwards each is in the journal once, in order."""
    heat, pad = started(floor, context)
    tap(pad)
    proved(pad, 1)
    context.set_offline(True)
    hold_block(pad, "2")
    tap(pad, 2)
    expect(part(pad, "number")).to_have_text("4")
    expect(part(pad, "proof")).to_contain_text("table 1 · 3 waiting")
    context.set_offline(False)
    tap(pad)
    proved(pad, 5)
    sent = [fact for fact in heat.facts() if fact["sender"].startswith("lane-1-")]
    assert [fact["sequence"] for fact in sent] == [1, 2, 3, 4, 5]
    assert len({fact["id"] for fact in sent}) == 5
    assert all(one["at_ms"] <= other["at_ms"] for one, other in pairwise(sent))


def test_what_waits_survives_the_page(floor: Floor, context: BrowserContext) -> None:
    """A page that is closed while reps wait loses none: the next one on that phone sends them, under their numbers."""
    heat, pad = started(floor, context)
    tap(pad)
    proved(pad, 1)
    context.set_offline(True)
    hold_block(pad, "2")
    tap(pad, 2)
    expect(part(pad, "number")).to_have_text("4")
    pad.close()
    context.set_offline(False)
    pad = open_pad(context, heat.pad_link())
    proved(pad, 4)
    tap(pad)
    proved(pad, 5)
    sent = [fact for fact in heat.facts() if fact["sender"].startswith("lane-1-")]
    assert [fact["sequence"] for fact in sent] == [1, 2, 3, 4, 5]


def test_undo_reaches_back_over_a_reload(floor: Floor, context: BrowserContext) -> None:
    """After a reload the last rep can still be taken back."""
    _, pad = started(floor, context)
    tap(pad)
    proved(pad, 1)
    pad.reload()
    proved(pad, 1)
    expect(part(pad, "undo-note")).to_have_text("rep 1")
    press(pad, "undo")
    expect(part(pad, "number")).to_have_text("0")
    pad.mouse.up()
    proved(pad, 0)


def test_the_heat_can_be_started_alone(floor: Floor, context: BrowserContext) -> None:
    """A pad that lost its link before the start can begin by a long hold; its reps reach the table later."""
    heat = floor.heat()
    pad = open_pad(context, heat.pad_link())
    context.set_offline(True)
    expect(part(pad, "surface")).to_have_attribute("data-kind", "start", timeout=30_000)
    press(pad, "surface")
    expect(part(pad, "surface")).to_have_attribute("data-kind", "tap")
    pad.mouse.up()
    tap(pad)
    heat.start()
    context.set_offline(False)
    proved(pad, 1)
    assert heat.lane()["scored_reps"] == 1


_WRONG_CLOCK = """(() => {
  const right = Date.now;
  window.offMs = 90_000;
  Date.now = () => right() + window.offMs;
})()"""
"""A phone whose clock is 90 s ahead, until it is set."""


def test_a_phone_with_a_wrong_clock_stamps_right_times(floor: Floor, context: BrowserContext) -> None:
    """90 s ahead, over a lost link, and set back by 180 s in mid-heat: no touch is off by a tenth of that."""
    heat = floor.heat()
    heat.start()
    pad = context.new_page()
    pad.add_init_script(_WRONG_CLOCK)
    pad.goto(heat.pad_link())
    expect(part(pad, "surface")).to_have_attribute("data-kind", "tap")
    began = time()
    tap(pad)
    proved(pad, 1)
    hold_block(pad, "2")
    context.set_offline(True)
    expect(part(pad, "proof")).to_contain_text("no link")
    tap(pad)
    context.set_offline(False)
    proved(pad, 3)
    pad.evaluate("() => { window.offMs = -90_000; }")
    tap(pad)
    proved(pad, 4)
    lasted_ms = (time() - began) * 1000
    sent = [fact for fact in heat.facts() if fact["sender"].startswith("lane-1-")]
    assert len(sent) == 4
    # The heat began just before: every touch lies within what the test took, with ten seconds for a busy machine.
    assert all(0 <= fact["at_ms"] <= lasted_ms + 10_000 for fact in sent), sent
    assert all(0 <= fact["uncertain_ms"] < 5_000 for fact in sent), sent


def test_a_correction_by_the_table_is_told(floor: Floor, context: BrowserContext) -> None:
    """When the table sets the count, the pad takes the number and says so."""
    heat, pad = started(floor, context)
    tap(pad)
    proved(pad, 1)
    heat.say("count_corrected", lane=1, scored_reps=4, reason="practice", at_ms=60_000)
    expect(part(pad, "message")).to_have_text("The table set your count from 1 to 4")
    proved(pad, 4)
    expect(part(pad, "undo-note")).to_be_empty()


def test_a_measured_station_is_counted_whole_or_in_steps(floor: Floor, context: BrowserContext) -> None:
    """Where a machine counts, steps add what it shows and a hold adds the rest of the station."""
    heat, pad = started(floor, context, "rowed")
    tap(pad)
    pad.get_by_role("button", name="+5").tap()
    proved(pad, 5)
    hold_block(pad, "20")
    proved(pad, 20)
    expect(part(pad, "station")).to_have_text("Swing")
    assert [fact.get("n", 1) for fact in heat.facts("rep_counted")] == [5, 15]


def test_a_second_window_of_one_phone_does_not_count(floor: Floor, context: BrowserContext) -> None:
    """Two windows would share one row of numbers: the later one is locked and says why."""
    heat, pad = started(floor, context)
    second = context.new_page()
    second.goto(heat.pad_link())
    expect(part(second, "ask")).to_contain_text("open in another window")
    pad.bring_to_front()
    tap(pad)
    proved(pad, 1)


def test_a_wrong_key_is_said(floor: Floor, context: BrowserContext) -> None:
    """With a wrong key the pad takes no touch and says whom to ask."""
    heat = floor.heat()
    heat.start()
    pad = context.new_page()
    pad.goto(f"{heat.pad_link()}x")
    expect(part(pad, "ask")).to_contain_text("no valid key")
    expect(part(pad, "surface")).to_be_disabled()


def test_the_lane_and_the_athlete_stand_on_it(floor: Floor, context: BrowserContext) -> None:
    """Each pad names its lane and the entry on it."""
    heat = floor.heat()
    pad = open_pad(context, heat.pad_link(2))
    expect(part(pad, "lane")).to_have_text("2")
    expect(part(pad, "name")).to_have_text("Bo Ellingsen")


@pytest.mark.parametrize("size", SIZES)
def test_it_fits(floor: Floor, context: BrowserContext, size: str) -> None:
    """On every size nothing scrolls, the surface is the largest part, keys are large and the number stays inside."""
    width, height = SIZES[size]
    heat = floor.heat("guarded")
    heat.start()
    heat.say("rep_counted", lane=1, n=18)
    pad = open_pad(context, heat.pad_link(), width=width, height=height)
    proved(pad, 18)
    expect(part(pad, "finish")).to_be_visible()
    assert pad.evaluate("document.scrollingElement.scrollHeight") <= height
    assert pad.evaluate("document.scrollingElement.scrollWidth") <= width
    boxes = {name: box_of(pad, name) for name in ("surface", "number", "undo", "no-rep", "finish", "more")}
    surface, number = boxes["surface"], boxes["number"]
    assert surface["width"] * surface["height"] >= 0.45 * width * height
    assert number["x"] >= surface["x"]
    assert number["x"] + number["width"] <= surface["x"] + surface["width"]
    assert number["y"] >= surface["y"]
    for name in ("undo", "no-rep", "finish", "more"):
        assert min(boxes[name]["width"], boxes[name]["height"]) >= 44, name
