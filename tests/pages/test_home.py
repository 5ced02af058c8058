"""The home page in a real browser against a real server: in with six letters, slips made, a device cut off."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from e2e.processes import Served, practice, served
from pages.reuse import device, wipe

pytestmark = pytest.mark.slow

AXE = Path(__file__).parents[1] / "overlay" / "node_modules" / "axe-core" / "axe.min.js"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server of two lanes."""
    folder = tmp_path_factory.mktemp("home")
    with served("serve", str(practice(folder)), "--data", str(folder / "data"), "--port", "0") as running:
        yield running


@pytest.fixture(scope="module")
def shared_phone(browser: Browser) -> Iterator[BrowserContext]:
    """A phone; a test may look into its pages."""
    opened = device(browser, size=(360, 640), touch=True, bypass_csp=True)
    yield opened
    opened.close()


@pytest.fixture
def phone(shared_phone: BrowserContext, server: Served) -> Iterator[BrowserContext]:
    """A phone with nothing on it."""
    yield shared_phone
    wipe(shared_phone, server.base)


def opened(context: BrowserContext, address: str) -> Page:
    """A page that has asked the server."""
    page = context.new_page()
    page.goto(address)
    expect(page.locator('[data-part="health"]')).to_contain_text("The server is up")
    return page


def faults(page: Page) -> list[Any]:
    """What axe-core finds, and whether the page is wider than its window."""
    page.add_script_tag(path=AXE)
    found: dict[str, Any] = page.evaluate("() => axe.run(document)")
    wide = page.evaluate("() => document.documentElement.scrollWidth > innerWidth + 1")
    return [(each["id"], each["nodes"][0]["html"]) for each in found["violations"]] + (["wide"] if wide else [])


def test_lateness_goes_on_while_nothing_happens(own_page: Page, server: Served) -> None:
    """A picture of the day that was made an hour ago says how late the day is now, not then."""

    def older(route: Route) -> None:
        answer = route.fetch()
        made = answer.json()
        now_ms = time.time_ns() // 1_000_000
        heat = {"id": "h1", "name": "Heat 1", "status": "waiting", "start_unix_ms": now_ms - 25 * 60_000 - 30_000}
        frame = {**made["frame"], "day": [heat]}
        route.fulfill(response=answer, json={**made, "unix_ms": now_ms - 3_600_000, "frame": frame})

    own_page.route("**/snapshot/next*", older)
    own_page.goto(f"{server.base}/home/")
    expect(own_page.locator('[data-part="late"]')).to_have_text("25 min late")


def test_the_server_says_how_it_runs_and_that_it_is_gone(browser: Browser, tmp_path: Path) -> None:
    """From the home page: figures, nothing wrong, no fault for axe-core; without the server they are said to be old."""
    context = device(browser, size=(360, 640), touch=True, bypass_csp=True)
    with served("serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0") as running:
        page = opened(context, running.links["home"])
        page.get_by_role("link", name="Server").click()
        wrong = page.locator('[data-part="wrong"]')
        # On a machine that is busy with other tests it may say that, and nothing else.
        expect(wrong).to_have_text(
            re.compile(r"^(Nothing that the server knows of|The server came up to .* too busy)\.$")
        )
        expect(page.locator(".row", has_text="Taken since the start")).to_contain_text("0")
        assert faults(page) == []
        running.kill()
        expect(wrong).to_contain_text("The server does not answer")
        expect(page.locator('[data-part="said"]')).to_contain_text("its last figures")
    context.close()


def test_slips_are_made_and_a_device_is_cut_off(phone: BrowserContext, server: Served) -> None:
    """Six letters of a new slip open the pad of its lane; taken back, that pad is told and counts no more."""
    home = opened(phone, server.links["home"])
    home.locator('[data-part="make-role"]').select_option("lane:2")
    home.locator('[data-part="make-label"]').fill("lane 2, Saturday")
    home.get_by_role("button", name="Make slips").click()
    slip = home.locator(".slip")
    expect(slip).to_have_count(1)
    expect(slip.locator("path")).to_have_attribute("d", re.compile("^M4 4h7v1"))
    assert faults(home) == []
    code = slip.locator('[data-part="slip-code"]').inner_text()
    stranger = opened(phone, f"{server.base}/")
    assert faults(stranger) == []
    expect(stranger.locator('[data-part="links-part"]')).to_be_hidden()
    expect(stranger.locator('[data-part="pages"]')).not_to_contain_text("Scoring table")
    expect(home.locator('[data-part="pages"]')).not_to_contain_text("Scoring table")
    expect(home.get_by_role("link", name="Scoring table")).to_have_attribute("href", re.compile("^../table/#key="))
    stranger.locator('[data-part="code"]').fill(code.lower())
    stranger.get_by_role("button", name="Open my page").click()
    stranger.wait_for_url(re.compile(r"/pad/\?lane=2#key="))
    expect(stranger.locator('[data-part="name"]')).to_have_text("Bo Ellingsen")
    row = home.locator(".link", has_text="lane 2, Saturday").filter(has_text="connected for")
    row.get_by_role("button", name="Take back").click()
    expect(stranger.locator('[data-part="ask"]')).to_contain_text("taken back: ask the scoring table")


def test_a_wrong_code_is_told(phone: BrowserContext, server: Served) -> None:
    """Letters that are no code are told in words, and the page stays."""
    page = opened(phone, f"{server.base}/home/")
    page.locator('[data-part="code"]').fill("BBBBBB")
    page.get_by_role("button", name="Open my page").click()
    expect(page.locator('[data-part="code-said"]')).to_contain_text("This code is none")
    assert faults(page) == []


def test_a_wrong_address_is_accessible(phone: BrowserContext, server: Served) -> None:
    """The page that says what is wrong has no fault, and leads home."""
    page = phone.new_page()
    page.goto(f"{server.base}/pad/?lane=abc")
    expect(page.locator("main")).to_contain_text("names lane")
    assert faults(page) == []
    page.get_by_role("link", name="Home").click()
    expect(page.locator("h1")).to_have_text("Home")
