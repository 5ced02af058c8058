"""The booth in a real browser against a real server: a spotter's phone, two commentators, and whoever has no link."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served, practice, served
from e2e.sender import Sender
from pages.crew import faults
from pages.floor import part
from pages.reuse import device, wipe

pytestmark = pytest.mark.slow

SAID = """say = "EN-ger"
age_class = "35 to 39"
facts = ["Won here", "Back after a year"]
caution = "the fall in spring"
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server of two lanes; of the first the file tells the booth something."""
    folder = tmp_path_factory.mktemp("booth")
    path = practice(folder)
    head, entry, rest = path.read_text(encoding="utf-8").partition("[[entry]]\n")
    path.write_text(f"{head}{entry}{SAID}{rest}", encoding="utf-8")
    with served("serve", str(path), "--data", str(folder / "data"), "--port", "0") as running:
        yield running


@pytest.fixture(scope="module")
def shared_devices(browser: Browser) -> Iterator[tuple[BrowserContext, BrowserContext]]:
    """A phone and a laptop, whose pages may be looked into."""
    phone = device(browser, size=(360, 640), touch=True, bypass_csp=True)
    laptop = device(browser, size=(1366, 768), bypass_csp=True)
    yield phone, laptop
    phone.close()
    laptop.close()


@pytest.fixture
def devices(
    shared_devices: tuple[BrowserContext, BrowserContext], server: Served
) -> Iterator[tuple[BrowserContext, BrowserContext]]:
    """Both with nothing on them."""
    yield shared_devices
    for each in shared_devices:
        wipe(each, server.base)


def _spotter(phone: BrowserContext, server: Served) -> Page:
    page = phone.new_page()
    page.goto(server.links["spotter"])
    expect(part(page, "link")).to_have_text("Linked")
    part(page, "spotter").fill("Ada")
    return page


def _call(laptop: BrowserContext, address: str) -> Page:
    page = laptop.new_page()
    page.goto(address)
    expect(page.locator("[data-part=row]")).to_have_count(2)
    return page


def _send(spotter: Page, text: str, *, lane: str = "No lane") -> None:
    spotter.locator(".lane", has_text=lane).click()
    part(spotter, "said").fill(text)
    part(spotter, "send").click()
    expect(part(spotter, "said")).to_have_value("")


def test_a_note_reaches_every_commentator_and_nobody_else(
    devices: tuple[BrowserContext, BrowserContext], server: Served
) -> None:
    """Sent with a lane, pinned by one commentator, dismissed by the other; a page without a link has none of it."""
    phone, laptop = devices
    spotter = _spotter(phone, server)
    one, other = (_call(laptop, server.links["the call, with the booth"]) for _ in range(2))
    anybody = _call(laptop, server.links["the call"])
    _send(spotter, "Changed her shoes at the break", lane="1 ")
    for page in (one, other):
        expect(part(page, "notes")).to_contain_text("Changed her shoes at the break")
        expect(part(page, "notes")).to_contain_text("from \u2068Ada\u2069")
    part(one, "notes").get_by_role("button", name="Pin").click()
    expect(part(other, "notes").get_by_role("button", name="Unpin")).to_be_visible()
    expect(part(spotter, "notes")).to_contain_text("pinned by a commentator")
    part(other, "notes").get_by_role("button", name="Dismiss").click()
    expect(part(one, "no-notes")).to_be_visible()
    one.reload()
    expect(part(one, "put-back")).to_contain_text("Changed her shoes")
    part(one, "put-back").click()
    expect(part(other, "notes")).to_contain_text("Changed her shoes")
    assert "Changed her shoes" not in anybody.content()
    expect(part(anybody, "booth")).to_be_hidden()
    _send(spotter, "Not this")
    expect(part(one, "notes")).to_contain_text("Not this")
    part(spotter, "notes").locator(".note", has_text="Not this").get_by_role("button", name="Take back").click()
    expect(part(one, "notes")).not_to_contain_text("Not this")


def test_what_the_file_tells_is_in_the_facts(devices: tuple[BrowserContext, BrowserContext], server: Served) -> None:
    """Respelling, facts and the caution open with a lane; a fact that one dismisses is struck for the other too."""
    _, laptop = devices
    one, other = (_call(laptop, server.links["the call, with the booth"]) for _ in range(2))
    anybody = _call(laptop, server.links["the call"])
    for page in (one, other, anybody):
        page.locator("[data-part=row]").first.click()
        expect(part(page, "facts")).to_be_visible()
    expect(part(one, "facts")).to_contain_text("EN-ger")
    expect(part(one, "do-not")).to_have_text("Do not mention: the fall in spring")
    part(one, "told").locator("li", has_text="Won here").get_by_role("button", name="Dismiss").click()
    expect(part(other, "told").locator("[data-told]")).to_contain_text("Won here")
    assert not [word for word in ("EN-ger", "Won here", "the fall") if word in anybody.content()]
    assert faults(one) == []


def test_a_held_lane_leaves_the_booth(devices: tuple[BrowserContext, BrowserContext], server: Served) -> None:
    """With a medical hold the lane's notes and what the file tells are gone at once; after it they are back."""
    phone, laptop = devices
    spotter, one = _spotter(phone, server), _call(laptop, server.links["the call, with the booth"])
    _send(spotter, "Tape on the left wrist", lane="1 ")
    expect(part(one, "notes")).to_contain_text("Tape on the left wrist")
    table = Sender(server.port, "table-booth", server.key("scoring table"))
    table.say("hold_placed", lane=1)
    expect(part(one, "notes")).not_to_contain_text("Tape on the left wrist")
    expect(part(spotter, "notes")).not_to_contain_text("Tape on the left wrist")
    expect(spotter.locator(".lane", has_text="1 ")).to_have_count(0)
    table.say("hold_released", lane=1)
    expect(part(one, "notes")).to_contain_text("Tape on the left wrist")
    table.close()


def test_notes_wait_without_a_network(devices: tuple[BrowserContext, BrowserContext], server: Served) -> None:
    """Two notes written without a link say so, survive a reload, and arrive in order when it is back."""
    phone, laptop = devices
    spotter, one = _spotter(phone, server), _call(laptop, server.links["the call, with the booth"])
    phone.set_offline(True)
    expect(part(spotter, "link")).to_contain_text("No link")
    _send(spotter, "First without a link")
    _send(spotter, "Second without a link")
    expect(part(spotter, "link")).to_contain_text("2 notes wait")
    expect(part(spotter, "notes")).to_contain_text("waits for the link")
    phone.set_offline(False)
    spotter.reload()
    expect(part(spotter, "link")).to_have_text("Linked")
    expect(part(one, "notes").locator("li").nth(0)).to_contain_text("Second without a link")
    expect(part(one, "notes").locator("li").nth(1)).to_contain_text("First without a link")


def test_the_spotters_page_is_clean_on_a_small_phone(
    devices: tuple[BrowserContext, BrowserContext], server: Served
) -> None:
    """axe-core finds nothing, nothing is wider than 360 pixels, and a long note without spaces is broken."""
    phone, _ = devices
    spotter = _spotter(phone, server)
    _send(spotter, "x" * 160, lane="1 ")
    expect(part(spotter, "notes")).to_contain_text("x" * 160)
    assert faults(spotter) == []
