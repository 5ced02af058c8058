"""Ten minutes without a network: they cost delay, and nothing else.

The phone's own clocks are put forward by three seconds before each touch, so that its timers, its heat clock and the
times of its touches see all ten minutes. Queue, storage, page and sending are the real ones.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from e2e.processes import exported, practice, served
from e2e.sender import Sender
from pages.floor import part, phone

pytestmark = [pytest.mark.slow, pytest.mark.long]

_EVENTS_BY_IT = "Object.defineProperty(Event.prototype, 'timeStamp', { get() { return performance.now(); } });"
"""The clock that a test puts forward is not that of events by itself."""
MINUTES, TOUCHES_A_MINUTE = 10, 20


@pytest.mark.parametrize("reloaded", [False, True], ids=["open", "opened again"])
def test_ten_minutes_without_a_network_cost_only_delay(browser: Browser, tmp_path: Path, reloaded: bool) -> None:
    """Two hundred touches at their times, once each and in order, also when the page was opened again meanwhile."""
    data = tmp_path / "data"
    with served("serve", str(practice(tmp_path)), "--data", str(data), "--port", "0") as server:
        context = phone(browser, keeps=True)
        pad = context.new_page()
        # The phone's clock stands where the test puts it, ten minutes ahead of the real one at the end.
        pad.clock.install()
        pad.add_init_script(_EVENTS_BY_IT)
        table = Sender(server.port, "table-test", server.key("scoring table"))
        pad.goto(server.links["lane pad 1"])
        table.say("heat_started", unix_ms=pad.evaluate("() => Date.now()") - 700_000)
        expect(part(pad, "surface")).to_have_attribute("data-kind", "tap")
        pad.touchscreen.tap(180, 420)
        expect(part(pad, "proof")).to_have_text("table 1")
        pad.evaluate("() => navigator.serviceWorker.ready.then(() => caches.keys())")
        context.set_offline(True)
        expect(part(pad, "proof")).to_contain_text("no link")
        for _ in range(MINUTES * TOUCHES_A_MINUTE):
            pad.clock.fast_forward(60_000 // TOUCHES_A_MINUTE)
            pad.touchscreen.tap(180, 420)
        expect(part(pad, "number")).to_have_text(str(1 + MINUTES * TOUCHES_A_MINUTE))
        expect(part(pad, "proof")).to_contain_text(f"{MINUTES * TOUCHES_A_MINUTE} waiting")
        if reloaded:
            pad.reload()
            expect(part(pad, "number")).to_have_text(str(1 + MINUTES * TOUCHES_A_MINUTE))
        context.set_offline(False)
        pad.clock.run_for(10_000)
        expect(part(pad, "proof")).to_have_text(f"table {1 + MINUTES * TOUCHES_A_MINUTE}", timeout=30_000)
        facts = [fact for fact in exported(data) if fact["fact"] == "rep_counted"]
        table.close()
        context.close()
    assert [fact["sequence"] for fact in facts] == list(range(1, 2 + MINUTES * TOUCHES_A_MINUTE))
    gaps = [int(str(later["at_ms"])) - int(str(fact["at_ms"])) for fact, later in pairwise(facts[1:])]
    assert min(gaps) >= 60_000 // TOUCHES_A_MINUTE
    assert sum(gaps) < MINUTES * 60_000 * 1.2
