"""One browser and one static server for all tests of the pages; one page for the tests of a module."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, sync_playwright

from e2e.browser import FLAGS
from pages.reuse import leave
from pages.stub import static_server

CHROMIUM = "/usr/bin/chromium"
FULL: ViewportSize = {"width": 1920, "height": 1080}


@pytest.fixture(scope="package")
def address() -> Iterator[str]:
    """The address the pages are served at."""
    with static_server() as url:
        yield url


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """A Chromium. It ends with the pages: the sync API keeps an event loop running, which async tests cannot share."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@dataclass(frozen=True, slots=True)
class Watched:
    """A page that moves nothing, and what went wrong in its script or on its console."""

    page: Page
    said: list[str]


def watched(browser: Browser) -> Watched:
    """Open a page in a window of its own."""
    page = browser.new_page(viewport=FULL, reduced_motion="reduce")
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    return Watched(page, said)


@pytest.fixture(scope="module")
def shared(browser: Browser) -> Iterator[Watched]:
    """The page that the tests of a module use one after the other: opening one costs more than most tests."""
    opened = watched(browser)
    yield opened
    opened.page.close()


@pytest.fixture
def page(shared: Watched) -> Iterator[Page]:
    """The module's page, as if new; a script error or a console error fails the test.

    What a page cannot be rid of again (a clock, a script that runs first) is for `own_page`.
    """
    shared.said.clear()
    shared.page.set_viewport_size(FULL)
    yield shared.page
    leave(shared.page)
    assert shared.said == []


@pytest.fixture
def own_page(browser: Browser) -> Iterator[Page]:
    """A page for one test alone; a script error or a console error fails it."""
    opened = watched(browser)
    yield opened.page
    opened.page.close()
    assert opened.said == []
