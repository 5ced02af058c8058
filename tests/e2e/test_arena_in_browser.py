"""A take-over as a crew sees it: pad, desk and the air in a real Chromium, by the one address of docs/arena."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import expect

from e2e.browser import chromium
from e2e.one_address import OneAddress
from e2e.sender import Sender
from e2e.test_arena import arena, links_of, works
from e2e.test_take_over import until
from e2e.units import Units
from wire.reader import whole

pytestmark = pytest.mark.slow

__all__ = ["arena"]
ANSWER_MS = 30_000


@pytest.mark.long
def test_pages_go_on_after_a_take_over(arena: tuple[Units, OneAddress, dict[str, int]]) -> None:
    """The writer is killed while a judge taps: pad, desk and the air go on with the other one by themselves.

    No touch is lost or doubled, and what was on programme still is.
    """
    units, one, ports = arena
    writer, standby = (units.services[f"tallywire-{name}"] for name in ("writer", "standby"))
    until(lambda: works(lambda: one.get("/health/writer")), lambda: writer.said)
    until(lambda: "standing by at" in standby.said, lambda: standby.said)
    keys = links_of(units)
    table = Sender(ports["8401"], "table-a", keys["scoring table"])
    table.start_heat()
    table.close()
    base = f"https://127.0.0.1:{one.port}"
    with chromium() as browser:
        phone = browser.new_context(ignore_https_errors=True, viewport={"width": 390, "height": 844})
        crew = browser.new_context(ignore_https_errors=True, viewport={"width": 1366, "height": 768})
        pad, desk, air = phone.new_page(), crew.new_page(), crew.new_page()
        pad.goto(f"{base}/pad/?lane=1#key={keys['lane pad 1']}")
        desk.goto(f"{base}/desk/#key={keys['graphics desk']}")
        air.goto(f"{base}/air/?output=world")
        surface, number = pad.locator("[data-part=surface]"), pad.locator("[data-part=number]")
        for _ in range(3):
            surface.click()
        expect(pad.locator("[data-part=proof]")).to_contain_text("table 3", timeout=ANSWER_MS)
        expect(desk.locator("[data-part=link]")).to_have_text("Linked")
        operator = Sender(ports["8401"], "desk-a", keys["graphics desk"], role="desk")
        operator.say("view_taken", output="world", view="heat", params={}, unix_ms=time.time_ns() // 1_000_000)
        operator.close()
        expect(air.locator("main")).to_contain_text("3", timeout=ANSWER_MS)
        writer.kill()
        for _ in range(4):
            surface.click()
        expect(number).to_have_text("7")
        expect(pad.locator("[data-part=proof]")).to_contain_text("table 7", timeout=ANSWER_MS)
        expect(air.locator("main")).to_contain_text("7", timeout=ANSWER_MS)
        expect(desk.locator("[data-part=link]")).to_have_text("Linked", timeout=ANSWER_MS)
        surface.click()
        expect(pad.locator("[data-part=proof]")).to_contain_text("table 8", timeout=ANSWER_MS)
    assert one.get("/health/writer")["journal"]["epoch"] >= 2
    assert whole(one.get("/snapshot/heat?heat=h1")["frame"])["lanes"]["1"]["scored_reps"] == 8
