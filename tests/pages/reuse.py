"""One page or one device for many tests: opening one costs more processor time than most tests do with it."""

from __future__ import annotations

from playwright.sync_api import Browser, BrowserContext, Page

_KEPT = """async () => {
  await navigator.serviceWorker.ready;
  const still = ({ installing, waiting, active }) => !installing && !waiting && active.state === "activated";
  while (!(await navigator.serviceWorker.getRegistrations()).every(still)) {
    await new Promise((done) => setTimeout(done, 50));
  }
}"""
"""A page registers its worker two seconds after it has arrived, and may then replace one that was there before."""


def leave(page: Page) -> None:
    """Take a page away from where it is, with nothing of it kept: what it stored, and what was routed for it."""
    page.unroute_all()
    if page.url.startswith("http"):
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    page.goto("about:blank")


def device(
    browser: Browser, *, size: tuple[int, int], touch: bool = False, bypass_csp: bool = False, keeps: bool = False
) -> BrowserContext:
    """Open a device with storage of its own; the blank page on it keeps Chromium's process for the pages to come.

    Only on one that `keeps` do pages open without the network: while a worker comes or goes, Chromium may never answer
    that it took the network away.
    """
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        has_touch=touch,
        is_mobile=touch,
        bypass_csp=bypass_csp,
        service_workers="allow" if keeps else "block",
    )
    context.new_page()
    return context


def go_offline(context: BrowserContext, page: Page) -> None:
    """Take a device that keeps pages away from the network, once its worker has kept them and no other one comes."""
    page.evaluate(_KEPT)
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
