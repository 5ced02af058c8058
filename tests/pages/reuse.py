"""One page or one device for many tests: opening one costs more processor time than most tests do with it."""

from __future__ import annotations

from playwright.sync_api import Browser, BrowserContext, Page

_SETTLED = """async () => {
  const late = new Promise((done) => setTimeout(done, 20000));
  await Promise.race([navigator.serviceWorker?.ready, late]);
}"""
"""A page registers its worker two seconds after it has arrived, so that none is there yet says nothing."""


def leave(page: Page) -> None:
    """Take a page away from where it is, with nothing of it kept: what it stored, and what was routed for it."""
    page.unroute_all()
    if page.url.startswith("http"):
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    page.goto("about:blank")


def device(
    browser: Browser, *, width: int, height: int, touch: bool = False, bypass_csp: bool = False
) -> BrowserContext:
    """Open a device with storage of its own; the blank page on it keeps Chromium's process for the pages to come."""
    context = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=touch, is_mobile=touch, bypass_csp=bypass_csp
    )
    context.new_page()
    return context


def go_offline(context: BrowserContext, page: Page) -> None:
    """Take a device away from the network once its worker has kept the pages: cut off in between it never answers."""
    page.evaluate(_SETTLED)
    context.set_offline(True)


def wipe(context: BrowserContext, origin: str) -> None:
    """Make a device as if new: online, only the blank page open, and nothing stored for an origin."""
    context.set_offline(False)
    blank, *used = context.pages
    for page in used:
        page.close()
    session = context.new_cdp_session(blank)
    session.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "all"})
    session.detach()
