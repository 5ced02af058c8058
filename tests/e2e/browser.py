"""A real Chromium for the end-to-end tests."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Page, sync_playwright

_OFF = (
    # Each window would load the popups of its address bar: 381 modules, 0.7 s of processor time while the page opens.
    "WebUIOmniboxPopup",
    "WebUIOmniboxAimPopup",
    # What Playwright switches off: of several such lists the browser takes the last one alone.
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsUpgrades",
    "HttpsFirstBalancedModeAutoEnable",
    "LensOverlay",
    "MediaRouter",
    "PaintHolding",
    "ThirdPartyStoragePartitioning",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "OptimizationHints",
    "NetworkTimeServiceQuerying",
    "AimEnabled",
    "PreconnectToSearch",
)
# Those in the middle keep Chromium from calling home, which a closed network refuses at length.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--disable-features={','.join(_OFF)}",
]


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start headless Chromium with a fresh profile."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


def open_page(browser: Browser, link: str, *, width: int = 1920, height: int = 1080) -> Page:
    """Open a page in a window of its own."""
    page = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=width < 600, bypass_csp=True
    ).new_page()
    page.goto(link)
    return page
