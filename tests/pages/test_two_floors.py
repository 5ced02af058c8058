"""Two floors in a real browser against a real server: each with its pad, board, output and place at the table."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from e2e.processes import Served, served
from pages.floor import open_pad, part, phone, press
from pages.reuse import device

pytestmark = pytest.mark.slow

FILE = """
[competition]
name = "Two Halls"
[[division]]
id = "open"
name = "Open"
[[points]]
id = "table"
places = [100, 90]
[[floor]]
id = "east"
name = "East hall"
[[floor]]
id = "west"
name = "West hall"
"""
EVENT = """
[[entry]]
id = "{floor}-one"
name = "Entry of {floor}"
division = "open"
[[event]]
id = "event-{floor}"
name = "{event}"
[event.workout]
format = "for_time"
time_cap = "60:00"
[[event.workout.station]]
movement = "Step-over"
amount = 99
touch_guard_ms = 0
[[heat]]
id = "{floor}-1"
name = "Heat 1"
event = "event-{floor}"
floor = "{floor}"
lanes = {{ 1 = "{floor}-one" }}
[[heat]]
id = "{floor}-2"
name = "Heat 2"
event = "event-{floor}"
floor = "{floor}"
seeded_later = true
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server of a competition with two floors, each with a lane 1."""
    path = tmp_path_factory.mktemp("floors") / "two.toml"
    events = [EVENT.format(floor="east", event="Quay"), EVENT.format(floor="west", event="Gale")]
    path.write_text(FILE + "".join(events), encoding="utf-8")
    with served("serve", str(path), "--data", str(Path(path.parent, "data")), "--port", "0") as running:
        yield running


def start(table: Page, floor: str) -> None:
    """Call and start the heat of a floor at the table, which is told which one it is."""
    part(table, "heats").select_option(f"floor:{floor}")
    event = {"east": "Quay · Heat 1 · East hall", "west": "Gale · Heat 1 · West hall"}[floor]
    for key, question in (("call", f"Call {event} to the floor?"), ("start", f"Start {event}?")):
        part(table, key).click()
        expect(part(table, "ask-title")).to_have_text(question)
        part(table, "ask-yes").click()
    expect(part(table.locator("header"), "state")).to_have_text("running")


def tap(pad: Page, times: int) -> None:
    """Let the judge touch the pad so often."""
    for _ in range(times):
        press(pad, "surface")
        pad.mouse.up()


def test_two_heats_run_at_once_and_neither_disturbs_the_other(server: Served, browser: Browser) -> None:
    """One table starts a heat on each floor; the pads of lane 1 count apart; each board has its own heat, and goes on
    while the other's is over; each output shows its floor; the home page and the picker name both."""
    with ExitStack() as stack:
        hall = stack.enter_context(device(browser, size=(1280, 720)))
        table = hall.new_page()
        table.goto(server.links["scoring table"])
        expect(part(table, "heats").locator("option").first).to_have_text("On East hall: Quay · Heat 1")
        boards, pads = {}, {}
        for floor, name in (("east", "East hall"), ("west", "West hall")):
            boards[floor] = hall.new_page()
            boards[floor].goto(server.links[f"venue board, {name}"])
            expect(part(boards[floor], "heat")).to_contain_text(name)
            table.bring_to_front()
            start(table, floor)
            phone_of = stack.enter_context(phone(browser))
            pads[floor] = open_pad(phone_of, server.links[f"lane pad 1, {name}"])
            expect(part(pads[floor], "floor")).to_have_text(name)
        for floor, count in (("east", 3), ("west", 5)):
            tap(pads[floor], count)
            expect(part(pads[floor], "proof")).to_have_text(f"table {count}")
        for floor, count in (("east", 3), ("west", 5)):
            boards[floor].bring_to_front()
            expect(part(boards[floor].locator("[data-part=rows]"), "figure")).to_have_text(str(count))
        table.bring_to_front()
        part(table, "end").click()
        part(table, "ask-yes").click()
        expect(part(boards["west"], "round")).to_have_text("Heat over")
        tap(pads["east"], 1)
        boards["east"].bring_to_front()
        expect(part(boards["east"].locator("[data-part=rows]"), "figure")).to_have_text("4")
        expect(part(boards["east"], "round")).not_to_have_text("Heat over")
        _outputs_show_their_floor(server, hall.new_page())
        _home_names_both(server, hall.new_page())


def _outputs_show_their_floor(server: Served, desk: Page) -> None:
    """The desk works one output of each floor: what is in hand, and what goes on the air, is of that floor."""
    desk.goto(server.links["graphics desk"])
    for number, name, event, entry in (
        (0, "East hall", "Quay", "Entry of east"),
        (1, "West hall", "Gale", "Entry of west"),
    ):
        part(desk, "outputs").locator("button").nth(number).click()
        expect(part(desk, "heat")).to_have_text(f"On {name}: {event} · Heat 1 · live")
        part(desk, "views").get_by_role("button", name="Heat standing").click()
        expect(desk.frame_locator("[data-part=preview-frame]").get_by_text(entry).first).to_be_attached()
        part(desk, "take").click()
        expect(desk.frame_locator("[data-part=programme-frame]").get_by_text(entry).first).to_be_attached()


def _home_names_both(server: Served, home: Page) -> None:
    """The crew finds a board for each floor, and slips for the lane 1 of each."""
    home.goto(server.links["home"])
    for name in ("East hall", "West hall"):
        expect(home.get_by_role("link", name=f"Venue board, {name}")).to_be_visible()
        expect(home.locator("option", has_text=f"Lane pad 1, {name}")).to_have_count(1)
