"""One browser and one static server for each test module of the pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from pages.stub import static_server

CHROMIUM = "/usr/bin/chromium"
# The last five keep Chromium from calling home, which a closed network refuses at length.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """The address the pages are served at."""
    with static_server() as url:
        yield url


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A Chromium. It ends with the module: the sync API keeps an event loop running, which async tests cannot share."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh page that moves nothing; a script error or a console error fails the test."""
    page = browser.new_page(viewport={"width": 1920, "height": 1080}, reduced_motion="reduce")
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    yield page
    page.close()
    assert said == []
