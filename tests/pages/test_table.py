"""The scoring table in a real browser against a real server."""

from __future__ import annotations

from collections.abc import Iterator
from time import time_ns

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from e2e.sender import Sender
from pages.floor import Floor, Heat, open_floor, open_pad, part, phone
from pages.reuse import device, wipe

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def floor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Floor]:
    """One server for all tests here; each takes a heat of its own."""
    with open_floor(tmp_path_factory.mktemp("floor")) as opened:
        yield opened


@pytest.fixture(scope="module")
def laptop(browser: Browser) -> Iterator[BrowserContext]:
    """The laptop that one test after the other uses."""
    opened = device(browser, size=(1280, 800))
    yield opened
    opened.close()


@pytest.fixture
def context(laptop: BrowserContext, floor: Floor) -> Iterator[BrowserContext]:
    """A laptop with nothing on it."""
    yield laptop
    wipe(laptop, floor.server.base)


def open_table(context: BrowserContext, heat: Heat) -> Page:
    """Open the table of a heat and wait until it may act."""
    page = context.new_page()
    page.goto(heat.table_link())
    expect(row(page, 1).get_by_role("button", name="Correct")).to_be_enabled()
    return page


def row(page: Page, lane: int) -> Locator:
    """A lane's row."""
    return page.locator(f"[data-part=row][data-lane='{lane}']")


def cell(page: Page, lane: int, name: str) -> Locator:
    """A part of a lane's row."""
    return part(row(page, lane), name)


def test_a_heat_is_started_and_ended_after_a_question(floor: Floor, context: BrowserContext) -> None:
    """Start and end each ask first; the clock then runs and stops for everyone."""
    heat = floor.heat()
    page = open_table(context, heat)
    expect(part(page, "end")).to_be_disabled()
    part(page, "start").click()
    expect(part(page, "ask-title")).to_have_text(f"Start Short · Heat {heat.id}?")
    part(page, "ask-no").click()
    assert heat.facts() == []
    part(page, "start").click()
    part(page, "ask-yes").click()
    expect(part(page.locator("header"), "state")).to_have_text("running")
    expect(part(page, "start")).to_be_disabled()
    (start,) = heat.facts("heat_started")
    assert start["at_ms"] == 0
    assert heat.frame()["clock"]["zero_unix_ms"] == start["unix_ms"]
    part(page, "end").click()
    part(page, "ask-yes").click()
    expect(part(page.locator("header"), "state")).to_have_text("over")
    assert len(heat.facts("heat_ended")) == 1


def test_the_next_heat_is_called_to_the_floor(floor: Floor, context: BrowserContext, browser: Browser) -> None:
    """A call asks first; then a pad that follows the floor shows the called heat before its start."""
    before, heat = floor.heat(), floor.heat()
    before.start()
    before.say("heat_ended", at_ms=1000)
    other = phone(browser)
    pad = open_pad(other, before.pad_link().replace(f"&heat={before.id}", ""))
    expect(part(pad, "heat")).to_contain_text(f"Heat {before.id}")
    page = open_table(context, heat)
    part(page, "call").click()
    expect(part(page, "ask-title")).to_have_text(f"Call Short · Heat {heat.id} to the floor?")
    part(page, "ask-yes").click()
    expect(part(pad, "heat")).to_contain_text(f"Heat {heat.id}")
    expect(part(pad, "ask")).to_have_text(f"Heat {heat.id} has not started")
    assert len(heat.facts("heat_called")) == 1
    other.close()


def test_a_signal_that_was_earlier_moves_the_clock(floor: Floor, context: BrowserContext) -> None:
    """Started a minute late, the clock stands at a minute."""
    heat = floor.heat()
    page = open_table(context, heat)
    part(page, "start").click()
    page.get_by_label("Seconds since the signal").fill("60")
    part(page, "ask-yes").click()
    expect(part(page, "clock")).to_contain_text("1:0")


def test_every_lane_is_seen_as_it_counts(floor: Floor, context: BrowserContext) -> None:
    """Count, station, place and no-reps of each lane follow its judge."""
    heat = floor.heat()
    heat.start()
    page = open_table(context, heat)
    heat.say("rep_counted", lane=2, at_ms=1)
    heat.say("no_rep_called", lane=2, at_ms=2)
    expect(cell(page, 2, "count")).to_have_text("1")
    expect(cell(page, 2, "station")).to_have_text("Shuttle touch")
    expect(cell(page, 2, "place")).to_have_text("1")
    expect(cell(page, 2, "noReps")).to_have_text("1")
    expect(cell(page, 1, "place")).to_have_text("=2")


def test_a_correction_needs_a_reason_and_reaches_the_pad(
    floor: Floor, context: BrowserContext, browser: Browser
) -> None:
    """Without a reason nothing is set; with one the count holds for table and pad."""
    heat = floor.heat()
    heat.start()
    page = open_table(context, heat)
    other = phone(browser)
    pad = open_pad(other, heat.pad_link())
    row(page, 1).get_by_role("button", name="Correct").click()
    page.get_by_label("Cumulative number").fill("4")
    part(page, "ask-yes").click()
    expect(part(page, "ask-problem")).to_have_text("Please fill this in: it is kept in the record")
    page.get_by_role("button", name="scoresheet").click()
    part(page, "ask-yes").click()
    expect(cell(page, 1, "count")).to_have_text("4")
    expect(part(pad, "number")).to_have_text("4")
    (correction,) = heat.facts("count_corrected")
    assert (correction["scored_reps"], correction["reason"]) == (4, "scoresheet")
    other.close()


def test_what_was_done_can_be_taken_back(floor: Floor, context: BrowserContext) -> None:
    """A start by mistake is struck with a reason, even after a reload, and the heat waits again."""
    heat = floor.heat()
    page = open_table(context, heat)
    part(page, "start").click()
    part(page, "ask-yes").click()
    expect(part(page, "log")).to_contain_text("heat started")
    page.reload()
    part(page, "take-back").click()
    page.get_by_role("button", name="mistake").click()
    part(page, "ask-yes").click()
    expect(part(page.locator("header"), "state")).to_have_text("not started")
    expect(part(page, "take-back")).to_have_count(0)
    (void,) = heat.facts("fact_voided")
    assert void["voids"] == heat.facts("heat_started")[0]["id"]
    assert "lane" not in void


def test_withdrawal_finish_and_the_rest_are_one_key_away(floor: Floor, context: BrowserContext) -> None:
    """The row's menu withdraws a lane; the row's Finish calls the finish at the time written."""
    heat = floor.heat()
    heat.start()
    heat.say("count_corrected", lane=1, scored_reps=10, reason="practice", at_ms=900)
    page = open_table(context, heat)
    row(page, 1).get_by_role("button", name="Finish").click()
    page.get_by_label("Time").fill("0:00.95")
    part(page, "ask-yes").click()
    expect(cell(page, 1, "state")).to_have_text("0:00.950")
    part(row(page, 2), "more").click()
    page.locator("[data-part=menu] [data-action=withdraw]").click()
    part(page, "ask-yes").click()
    expect(cell(page, 2, "state")).to_have_text("withdrawn")


def do_on_lane(page: Page, lane: int, action: str, **fields: str) -> None:
    """Take an action from a lane's menu, its fields filled in by their label."""
    part(row(page, lane), "more").click()
    page.locator(f"[data-part=menu] [data-action={action}]").click()
    answer(page, **fields)


def answer(page: Page, **fields: str) -> None:
    """Fill in the question and say yes."""
    for label, text in fields.items():
        page.get_by_role("textbox", name=label.replace("_", " ")).fill(text)
    part(page, "ask-yes").click()
    expect(part(page, "ask")).to_be_hidden()


def test_a_result_goes_from_live_to_amended(floor: Floor, context: BrowserContext) -> None:
    """Sheets ticked and signed once: official; corrected: to be signed again, with the name kept; appeal: amended."""
    heat = floor.heat()
    heat.start()
    heat.say("rep_counted", lane=1, at_ms=1000)
    page = open_table(context, heat)
    result, why = part(page, "result"), part(page, "sheets-why")
    part(page, "sign").click(force=True)
    expect(part(page, "message")).to_have_text("Sign the heat: The heat is not over")
    heat.say("heat_ended", at_ms=60_000)
    expect(result).to_contain_text("Sheets to compare: lane 1–3")
    part(page, "sign").click()
    part(page, "sheets-by").fill("Hedda Judge")
    for lane in (1, 3):
        page.get_by_label(f"The sheet of lane {lane} agrees").check()
    expect(why).to_have_text("Tick what agrees first: lane 2")
    page.get_by_role("button", name="Change lane 2").click()
    page.locator("[data-part=menu] [data-action=correct]").click()
    answer(page, Cumulative_number="1", Reason="scoresheet")
    page.get_by_label("The sheet of lane 2 agrees").check()
    part(page, "sheets-yes").click()
    expect(result).to_have_text("Official: signed by Hedda Judge")
    assert [fact["by"] for fact in heat.facts("sheet_checked")] == ["Hedda Judge"] * 3
    row(page, 2).get_by_role("button", name="Correct").click()
    answer(page, Cumulative_number="2", Reason="video")
    expect(result).to_contain_text("Changed since it was signed: to be signed again")
    do_on_lane(page, 2, "upheld", What_was_decided="two reps missed")
    part(page, "sign").click()
    part(page, "sheets-yes").click()
    expect(result).to_have_text("Amended: signed by Hedda Judge")
    expect(cell(page, 2, "place")).to_have_text("1")


def test_points_are_deducted_and_a_lane_is_held(floor: Floor, context: BrowserContext) -> None:
    """A deduction and a medical hold are facts of their own; the held lane leaves the pictures until it is released."""
    heat = floor.heat()
    heat.start()
    page = open_table(context, heat)
    do_on_lane(page, 3, "deduct", Points="5", Reason="late to the floor")
    do_on_lane(page, 3, "hold")
    expect(cell(page, 3, "flags")).to_contain_text("medical hold")
    assert "3" not in heat.frame()["lanes"]
    do_on_lane(page, 3, "release")
    expect(cell(page, 3, "flags")).not_to_contain_text("medical hold")
    assert "3" in heat.frame()["lanes"]
    assert [(fact["points"], fact["reason"]) for fact in heat.facts("points_deducted")] == [(5, "late to the floor")]


def test_the_keyboard_is_enough(floor: Floor, context: BrowserContext) -> None:
    """A digit goes to a lane, enter opens its question, typing answers it, escape leaves it."""
    heat = floor.heat()
    heat.start()
    page = open_table(context, heat)
    page.keyboard.press("2")
    page.keyboard.press("Enter")
    expect(part(page, "ask-title")).to_have_text("Correct the count: lane 2, Bo Ellingsen")
    page.keyboard.press("Escape")
    expect(part(page, "ask")).to_be_hidden()
    page.keyboard.press("2")
    page.keyboard.press("Enter")
    page.keyboard.type("3")
    page.keyboard.press("Tab")
    page.keyboard.type("scoresheet")
    page.keyboard.press("Enter")
    expect(cell(page, 2, "count")).to_have_text("3")


def test_what_the_table_does_without_a_link_waits(floor: Floor, context: BrowserContext) -> None:
    """A correction made without a network is kept, said to wait, and taken once when the link is back."""
    heat = floor.heat()
    heat.start()
    page = open_table(context, heat)
    context.set_offline(True)
    expect(part(page, "link")).to_contain_text("No link")
    row(page, 1).get_by_role("button", name="Correct").click()
    page.get_by_label("Cumulative number").fill("2")
    page.get_by_role("button", name="scoresheet").click()
    part(page, "ask-yes").click()
    expect(part(page, "link")).to_contain_text("1 waiting")
    context.set_offline(False)
    expect(cell(page, 1, "count")).to_have_text("2")
    expect(part(page, "link")).to_have_text("Connected")
    assert len(heat.facts("count_corrected")) == 1


def test_a_remark_and_a_stall_are_marked(floor: Floor, context: BrowserContext) -> None:
    """A lane without a rep for long, and one whose judge sent what cannot count, are framed for a look."""
    heat = floor.heat()
    heat.say("heat_started", unix_ms=0)  # long ago: past the time cap, so nothing counts any more
    late = floor.heat()
    page = open_table(context, late)
    part(page, "start").click()
    page.get_by_label("Seconds since the signal").fill("300")
    part(page, "ask-yes").click()
    expect(cell(page, 1, "since")).to_have_attribute("data-stalled", "")
    heat.say("rep_counted", lane=1, at_ms=4_000_000)
    page.goto(heat.table_link())
    expect(cell(page, 1, "remarks")).to_have_text("1")


def test_a_wrong_key_is_said(floor: Floor, context: BrowserContext) -> None:
    """With a wrong key the table may do nothing and says why."""
    heat = floor.heat()
    page = context.new_page()
    page.goto(f"{heat.table_link()}x")
    expect(part(page, "link")).to_contain_text("no valid key")
    expect(part(page, "empty")).to_contain_text("no valid key")
    expect(part(page, "start")).to_be_disabled()


def test_two_tables_do_not_fight(floor: Floor, context: BrowserContext) -> None:
    """What another table did is seen, and cannot be taken back from here."""
    heat = floor.heat()
    other = Sender(floor.server.port, "table-other", floor.server.key("scoring table"))
    page = open_table(context, heat)
    other.say("heat_started", heat=heat.id, unix_ms=1)
    expect(part(page.locator("header"), "state")).to_have_text("over")
    expect(part(page, "take-back")).to_have_count(0)
    other.close()


@pytest.mark.parametrize("width", [1024, 1440])
def test_every_column_fits(floor: Floor, context: BrowserContext, width: int) -> None:
    """On a laptop no column is outside the table's room, with a stall, a remark and a result in it."""
    heat = floor.heat("guarded")
    heat.say("heat_started", unix_ms=time_ns() // 1_000_000 - 600_000)  # long enough ago for everyone to be stalled
    heat.say("penalty_given", lane=3, reps=2, reason="practice")
    heat.say("withdrawn", lane=2)
    page = open_table(context, heat)
    page.set_viewport_size({"width": width, "height": 800})
    expect(cell(page, 3, "since")).to_have_attribute("data-stalled", "")
    room = page.locator("section[aria-label=Lanes]")
    assert room.evaluate("e => e.scrollWidth - e.clientWidth") <= 0
