"""What table and board show of pads, in a real browser against a real server."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from e2e.processes import Served, practice, served
from e2e.sender import Sender
from pages.floor import open_pad, part, phone

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server whose heat runs."""
    folder = tmp_path_factory.mktemp("seen")
    with served("serve", str(practice(folder)), "--data", str(folder / "data"), "--port", "0") as running:
        table = Sender(running.port, "table-test", running.key("scoring table"))
        table.start_heat()
        table.close()
        yield running


def slip(server: Served, role: str, lane: int) -> str:
    """The address on a new slip."""
    body = json.dumps({"links": [{"role": role, "lane": lane}]}).encode()
    headers = {"Authorization": f"Bearer {server.key('scoring table')}"}
    with urllib.request.urlopen(urllib.request.Request(f"{server.base}/links", data=body, headers=headers)) as answer:
        address: str = json.load(answer)["slips"][0]["url"]
    return address


def test_the_table_sees_pads_come_go_and_disagree(server: Served, browser: Browser) -> None:
    """No pad yet; a pad and a backup three reps behind; the pad gone, which the board says of its lane too."""
    crew = browser.new_context(viewport={"width": 1366, "height": 768})
    table, board = crew.new_page(), crew.new_page()
    table.goto(server.links["scoring table"])
    board.goto(server.links["venue board"])
    row = table.locator("[data-lane='1']")
    phones = phone(browser)
    pad = open_pad(phones, server.links["lane pad 1"])
    expect(part(table.locator("[data-lane='2']"), "flags")).to_have_text("no pad yet")
    backup = open_pad(phones, slip(server, "backup", 1))
    expect(part(backup, "heat")).to_contain_text("Backup counter")
    for _ in range(4):
        part(pad, "surface").tap()
    part(backup, "surface").tap()
    expect(part(backup, "proof")).to_have_text("table 1")
    expect(part(pad, "proof")).to_have_text("table 4")
    expect(part(row, "flags")).to_contain_text("counters differ: 4, backup 1")
    expect(part(row, "count")).to_have_text("4")
    part(row, "more").click()
    expect(part(table, "menu-remarks")).to_contain_text("its clock right")
    expect(part(table, "menu-remarks")).to_contain_text("Backup backup-1-")
    part(table, "menu-no").click()
    pad.close()
    expect(part(row, "flags")).to_contain_text("waiting for the pad")
    expect(board.locator("[data-part=movement]", has_text="waiting for the pad")).to_have_count(1)
    part(table, "keyboard-open").click()
    second = part(table.locator("[data-lane='2']"), "count")
    for _ in range(2):
        table.keyboard.press("w")
    expect(second).to_have_text("2")
    table.keyboard.press("Shift+W")
    expect(second).to_have_text("1")
    expect(part(table, "keyboard-lanes")).to_contain_text("W · lane 2 Bo Ellingsen: 1")
    crew.close()
    phones.close()
