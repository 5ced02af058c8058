"""Pad, table and desk without the network, in a real browser against a real server that goes away and comes back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from time import monotonic

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served, practice, served, served_with
from e2e.sender import Sender
from pages.floor import open_pad, part, phone
from pages.reuse import wipe

pytestmark = pytest.mark.slow

PATIENCE_S = 60.0
OTHER = "f" * 16
_OTHER_PROGRAM = f"""
import tallywire.web.pages as pages
pages.digest_of = lambda files: {OTHER!r}
"""
"""A server whose pages are another program: that of a later day."""
_KEPT = "() => navigator.serviceWorker.ready.then(() => caches.keys())"
_LOADED_SINCE = "(was) => performance.timeOrigin > was && document.documentElement.hasAttribute('data-arrived')"
_VERSION = "() => document.documentElement.dataset.arrived"
_BARRED = "Object.defineProperty(window, 'localStorage', { get() { throw new Error('barred'); } });"
_FULL = """
const write = Storage.prototype.setItem;
Storage.prototype.setItem = function (key, text) {
  if (text.length > 1000) throw new DOMException("full", "QuotaExceededError");
  write.call(this, key, text);
};
"""
_PLAIN_HTTP = "delete Navigator.prototype.serviceWorker; delete Navigator.prototype.locks;"
"""What a page lacks that came over plain http (Secure Contexts §1, Service Workers §1, Web Locks §1)."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the servers of these tests keep their data."""
    return tmp_path_factory.mktemp("offline")


@pytest.fixture(scope="module")
def server(folder: Path) -> Iterator[Served]:
    """A server for the tests that leave it alone; its heat runs."""
    with served("serve", str(practice(folder)), "--data", str(folder / "stays"), "--port", "0") as running:
        table = Sender(running.port, "table-test", running.key("scoring table"))
        table.start_heat()
        table.close()
        yield running


@pytest.fixture(scope="module")
def shared_phone(browser: Browser) -> Iterator[BrowserContext]:
    """The phone that one test after the other uses."""
    opened = phone(browser, keeps=True)
    yield opened
    opened.close()


@pytest.fixture
def context(shared_phone: BrowserContext, server: Served) -> Iterator[BrowserContext]:
    """A phone with nothing on it."""
    yield shared_phone
    wipe(shared_phone, server.base)


def proved(pad: Page, number: int) -> None:
    """The pad shows the number, and that the table has the same."""
    expect(part(pad, "number")).to_have_text(str(number))
    expect(part(pad, "proof")).to_have_text(f"table {number}")


def wait_until(page: Page, asked: str, value: object) -> None:
    """Wait until a page that stays gives this value.

    Playwright's own wait takes any promise for true, and hangs when a page is loaded again while one is open.
    """
    until = monotonic() + PATIENCE_S
    while (found := page.evaluate(asked)) != value:
        assert monotonic() < until, f"found {found!r}, expected {value!r}"
        page.wait_for_timeout(100)


def test_pages_open_without_the_server_and_a_new_one_renews_them(browser: Browser, folder: Path) -> None:
    """The server goes: pad, table and desk load again and keep touches. It is back with other pages: these come."""
    context, data = phone(browser, keeps=True), str(folder / "goes")
    with served("serve", str(practice(folder)), "--data", data, "--port", "0") as first:
        port, links = first.port, first.links
        Sender(port, "table-test", first.key("scoring table")).start_heat()
        pad = open_pad(context, links["lane pad 1"])
        part(pad, "surface").tap()
        proved(pad, 1)
        table, desk = context.new_page(), context.new_page()
        table.goto(links["scoring table"])
        desk.goto(links["graphics desk"])
        expect(part(desk, "link")).to_have_text("Linked")
        [kept] = pad.evaluate(_KEPT)
        first.kill()
    for page in (table, desk, pad):
        page.reload()
    expect(part(table, "link")).to_contain_text("No link")
    expect(part(table, "link")).not_to_contain_text("do not reload")
    expect(part(desk, "link")).to_contain_text("No link to the server")
    expect(part(pad, "number")).to_have_text("1")
    assert kept == f"tallywire.pages.{pad.evaluate(_VERSION)}"
    for _ in range(3):
        part(pad, "surface").tap()
    expect(part(pad, "message")).to_contain_text("Touch kept")
    loaded = {page: page.evaluate("() => performance.timeOrigin") for page in (pad, table, desk)}
    again = served_with(
        "serve", str(practice(folder)), "--data", data, "--port", str(port), first=f"exec({_OTHER_PROGRAM!r})"
    )
    with again:
        proved(pad, 4)
        # Each page loads itself again for it.
        for page in (pad, table, desk):
            page.wait_for_function(_LOADED_SINCE, arg=loaded[page])
            assert page.evaluate(_VERSION) == OTHER
        wait_until(pad, _KEPT, [f"tallywire.pages.{OTHER}"])
        proved(pad, 4)
        part(pad, "surface").tap()
        proved(pad, 5)
    context.close()


def test_a_script_that_did_not_arrive_is_said(server: Served, context: BrowserContext) -> None:
    """A pad without its script says so and counts nothing; once it can arrive the pad loads itself again."""
    pad = context.new_page()
    pad.route("**/pad/joined.js", lambda route: route.abort())
    pad.goto(server.links["lane pad 1"])
    expect(pad.locator("[data-arriving]")).to_contain_text("did not arrive. It is loaded again")
    pad.unroute_all()
    expect(part(pad, "proof")).to_contain_text("table")
    expect(pad.locator("[data-arriving]")).to_have_count(0)


@pytest.mark.parametrize(
    ("script", "said"), [(_BARRED, "keeps nothing"), (_FULL, "store is full")], ids=["barred", "full"]
)
def test_a_store_that_keeps_nothing_is_said(server: Served, context: BrowserContext, script: str, said: str) -> None:
    """Barred or full, the pad says so while its heat has not started, and the table at once."""
    pad, table = context.new_page(), context.new_page()
    for page in (pad, table):
        page.add_init_script(script)
    pad.goto(server.links["lane pad 1"])
    expect(part(pad, "message")).to_contain_text(said)
    table.goto(server.links["scoring table"])
    expect(part(table, "message")).to_contain_text(said)


def test_over_plain_http_the_pad_says_what_holds(server: Served, browser: Browser) -> None:
    """Where no worker is allowed, a lost link costs a delay while the page stays, and the pad says that it must."""
    context = phone(browser)
    pad = context.new_page()
    pad.add_init_script(_PLAIN_HTTP)
    pad.goto(server.links["lane pad 2"])
    expect(part(pad, "proof")).to_contain_text("table 0")
    context.set_offline(True)
    expect(part(pad, "proof")).to_contain_text("do not reload")
    part(pad, "surface").tap()
    expect(part(pad, "number")).to_have_text("1")
    context.set_offline(False)
    proved(pad, 1)
    part(pad, "more").tap()
    expect(part(pad, "sheet-reload")).to_have_text("needs the network")
    context.close()


@pytest.mark.parametrize("script", ["", _PLAIN_HTTP], ids=["locks", "asking"])
def test_the_second_window_takes_over(server: Served, context: BrowserContext, script: str) -> None:
    """When the window that counted closes, the other one goes on, with the browser's locks and without."""
    first, second = context.new_page(), context.new_page()
    for page in (first, second):
        page.add_init_script(script)
    first.goto(server.links["lane pad 2"])
    expect(part(first, "surface")).to_have_attribute("data-kind", "tap")
    second.goto(server.links["lane pad 2"])
    expect(part(second, "ask")).to_contain_text("open in another window")
    first.bring_to_front()
    part(first, "surface").tap()
    number = int(part(first, "number").inner_text())
    proved(first, number)
    first.close()
    expect(part(second, "surface")).to_have_attribute("data-kind", "tap")
    second.bring_to_front()
    part(second, "surface").tap()
    proved(second, number + 1)
