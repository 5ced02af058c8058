"""One heat in a real Chromium: a tap on the pad reaches the air, and a killed server costs nothing."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest
from playwright.sync_api import Page

from e2e.browser import chromium, open_page
from e2e.processes import Served, exported, practice, served
from e2e.sender import Sender
from e2e.tap_to_paint import TAPS, measure, percentile_99
from wire.reader import whole

pytestmark = pytest.mark.slow

GOAL_MS = 100
QUICK = 60
"""Taps of the test command; `--long` makes as many as the figure in docs/performance.md is of."""


@pytest.mark.alone
def test_taps_are_painted_in_time(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """Each tap on the pad is painted on the on-air view, half of them within 100 ms on any machine.

    The goal is 99 % within 100 ms on an idle machine; the figure measured on one stands in docs/performance.md, and
    here it is printed, not required: another process on a shared machine would fail it.
    """
    taps = TAPS if pytestconfig.getoption("--long") else QUICK
    times = measure(tmp_path, taps=taps)
    print(f"tap to paint: median {statistics.median(times):.1f} ms, 99 % within {percentile_99(times):.1f} ms")
    assert len(times) == taps
    assert min(times) > 0
    assert statistics.median(times) < GOAL_MS


def test_a_killed_server_costs_nothing(tmp_path: Path) -> None:
    """Killed in mid-heat and restarted, pad, board and on-air view recover by themselves, no rep lost or doubled."""
    arguments = ("serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port")
    with chromium() as browser:
        with served(*arguments, "0") as first:
            table = Sender(first.port, "table-a", first.key("scoring table"))
            table.start_heat()
            air = open_page(browser, first.links["on air, heat view"])
            board = open_page(browser, first.links["venue board"])
            pad = open_page(browser, first.links["lane pad 1"], width=390, height=844)
            _tap(pad, 5)
            _shows(air, "5")
            first.kill()
            table.close()
            _tap(pad, 7)
            assert _number(pad) == "12"
        with served(*arguments, str(first.port)) as second:
            _shows(air, "12")
            _shows(board, "12")
            _tap(pad, 3)
            _shows(air, "15")
            _shows(board, "15")
            _shows(pad, "table 15")
            assert _lane_in_snapshot(air, second)["scored_reps"] == 15
    facts = exported(tmp_path / "data")
    taps = [fact for fact in facts if fact["fact"] == "rep_counted"]
    assert len(taps) == len({fact["id"] for fact in taps}) == 15
    assert [fact["sequence"] for fact in taps] == list(range(1, 16))


def _tap(pad: Page, times: int) -> None:
    surface = pad.locator("[data-part=surface]:not([disabled])")
    for _ in range(times):
        surface.tap()


def _number(pad: Page) -> str | None:
    return pad.locator("[data-part=number]").text_content()


def _shows(page: Page, text: str) -> None:
    page.wait_for_function(
        "wanted => [...document.querySelectorAll('*')].some("
        "e => !e.firstElementChild && e.textContent.trim().startsWith(wanted))",
        arg=text,
        timeout=20_000,
    )


def _lane_in_snapshot(page: Page, server: Served) -> dict[str, int]:
    data = page.request.get(f"{server.base}/snapshot/heat").json()
    lane: dict[str, int] = whole(data["frame"])["lanes"]["1"]
    return lane
