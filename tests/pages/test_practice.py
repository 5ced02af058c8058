"""Practice for judges in a real browser against a real server: a lane is counted and marked, nothing is sent."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served, served
from pages.crew import faults
from pages.flashes import MOST, flashes_a_second, luminance
from pages.floor import part
from pages.reuse import device, go_offline, wipe

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SIZES = [(360, 640), (640, 360), (768, 1024), (1280, 720)]
RATE = 50
_JUDGE = """async ({ heat, seed, until }) => {
  const { frame, truth } = await (await fetch(`../practice?heat=${heat}&seed=${seed}`)).json();
  const surface = document.querySelector("[data-part=surface]");
  const clock = () => document.querySelector("[data-part=clock]").textContent;
  const down = { button: 0, pointerId: 1, bubbles: true };
  const press = () => surface.dispatchEvent(new PointerEvent("pointerdown", down));
  const first = truth.filter(({ fact, at_ms }) => fact === "rep_counted" && at_ms <= until);
  while (clock() !== "0:00") await new Promise(requestAnimationFrame);
  const begun = performance.now();
  for (const { at_ms } of first) {
    while (performance.now() - begun < at_ms + 150) await new Promise(requestAnimationFrame);
    press();
  }
  return first.length;
}"""
_SHIFTS = """
  window.shifts = [];
  new PerformanceObserver((list) => window.shifts.push(...list.getEntries().flatMap(({ sources, value }) =>
    sources.map(({ node }) => `${value} ${node?.parentElement?.outerHTML?.slice(0, 90)}`))))
    .observe({ type: "layout-shift", buffered: true });
"""
_HOPS = """async () => {
  const { Stage } = await import("../practice/stage.js");
  for (const each of document.querySelectorAll("[data-part=stage]")) each.hidden = false;
  const stage = new Stage(document.body);
  const height = (at) => Math.abs(Math.sin(Math.PI * 2.5 * at));
  window.draw = (at) => stage.show({ look: "hop", height: height(at), share: 0, reading: "" },
    { station: "Line hop · 60 reps", said: "" });
}"""


@pytest.fixture(name="data", scope="module")
def _data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("practice") / "data"


@pytest.fixture(name="server", scope="module")
def _server(data: Path) -> Iterator[Served]:
    with served("serve", str(SCENARIOS / "estuary.toml"), "--data", str(data), "--port", "0") as running:
        yield running


@pytest.fixture(name="phone", scope="module")
def _phone(browser: Browser) -> Iterator[BrowserContext]:
    context = device(browser, size=(360, 640), touch=True, bypass_csp=True, keeps=True)
    context.add_init_script(_SHIFTS)
    yield context
    context.close()


@pytest.fixture(name="page")
def _page(phone: BrowserContext, server: Served) -> Iterator[Page]:
    page = phone.new_page()
    yield page
    wipe(phone, server.base)


def opened(page: Page, server: Served, query: str) -> None:
    """Open the page and wait until a lane is there."""
    page.goto(f"{server.base}/practice/?{query}")
    expect(part(page, "start")).to_be_enabled()


def test_a_lane_is_counted_and_marked_and_the_server_hears_nothing(page: Page, server: Served) -> None:
    """Every rep of some seconds tapped, the page says so; it opened no websocket, only asked, and nothing is kept."""
    sockets, requests = list[str](), list[tuple[str, str]]()
    page.on("websocket", lambda socket: sockets.append(socket.url))
    page.on("request", lambda request: requests.append((request.method, request.url)))
    opened(page, server, "heat=sluice&seed=7")
    part(page, "start").click()
    page.wait_for_selector("[data-part=clock]", state="attached")
    count = page.evaluate(_JUDGE, {"heat": "sluice", "seed": 7, "until": 10_000})
    assert count >= 2
    expect(part(page, "number")).to_have_text(str(count))
    part(page, "stop").click()
    expect(part(page, "score")).to_contain_text("of 100, for the part you counted")
    station = page.locator(".marked").first
    expect(station).to_contain_text(f"counted{count} of {count}")
    expect(station).not_to_contain_text("missed")
    part(page, "choose").click()
    expect(part(page, "heat-choice")).to_have_value("sluice")
    assert sockets == []
    assert {method for method, _ in requests} == {"GET"}
    health = page.evaluate("() => fetch('../health').then((answer) => answer.json())")
    assert (health["journal"]["lines"], health["clients"]) == (0, 0)


def test_it_is_found_from_the_home_page_and_from_the_pad(page: Page, server: Served) -> None:
    """The home page names it; the pad's sheet leads to its lane while no heat runs there, and back with its key."""
    page.goto(f"{server.base}/home/")
    page.get_by_role("link", name="Practice", exact=True).click()
    expect(part(page, "start")).to_be_enabled()
    page.goto(server.links["lane pad 2"])
    expect(part(page, "lane")).to_have_text("2")
    expect(part(page, "proof")).to_contain_text("table")
    part(page, "more").click()
    part(page, "practise").click()
    expect(part(page, "start")).to_be_enabled()
    expect(part(page, "lane-choice")).to_have_value("2")
    part(page, "back").click()
    expect(part(page, "lane")).to_have_text("2")
    assert page.url == server.links["lane pad 2"]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_it_is_without_fault_on_every_screen(page: Page, server: Served, size: tuple[int, int]) -> None:
    """Nothing is cut off or moves by itself; axe-core 4.10 finds nothing in three states, upright and on a laptop."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    opened(page, server, "heat=shared&seed=7")
    assert page.evaluate("() => window.shifts") == []
    looked = size in ((360, 640), (1280, 720))
    found = faults(page) if looked else []
    part(page, "start").click()
    expect(part(page, "surface")).to_be_visible()
    for name in ("surface", "undo", "no-rep", "stop", "at"):
        box = part(page, name).bounding_box()
        assert box and box["width"] > 30 and box["x"] >= 0 and box["x"] + box["width"] <= size[0] + 1, name
        assert box["y"] >= 0 and box["y"] + box["height"] <= size[1] + 1, name
    found += faults(page) if looked else []
    part(page, "stop").click()
    expect(part(page, "score")).to_be_visible()
    assert found + (faults(page) if looked else []) == []
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


def test_an_address_that_cannot_be_is_said(page: Page, server: Served) -> None:
    """A lane or a number that does not exist is named in words, and nothing can be started."""
    page.goto(f"{server.base}/practice/?heat=chipper&lane=77")
    expect(part(page, "said")).to_contain_text("There is no lane 77; the lanes are 1")
    expect(part(page, "start")).to_be_disabled()


@pytest.mark.slow
def test_it_opens_without_the_network(page: Page, phone: BrowserContext, server: Served) -> None:
    """Kept once, it opens again offline with the lane practised last, and its pad counts."""
    opened(page, server, "heat=sluice&seed=11")
    go_offline(phone, page)
    page.reload()
    expect(part(page, "said")).to_contain_text("the lane you practised last")
    expect(part(page, "seed")).to_have_value("11")
    part(page, "start").click()
    expect(part(page, "surface")).to_be_visible()
    phone.set_offline(False)


def test_who_wants_no_motion_sees_steps_and_nothing_flashes(page: Page, server: Served) -> None:
    """The quickest hops flash no more than WCAG 2.2 allows (2.3.1); with reduced motion there is only up and down."""
    opened(page, server, "heat=sluice&seed=7")
    page.evaluate(_HOPS)
    frames = []
    for step in range(RATE):
        page.evaluate("(at) => window.draw(at)", step / RATE)
        frames.append(luminance(page.screenshot(type="jpeg", quality=90)))
    assert flashes_a_second(np.array(frames), rate=RATE) <= MOST
    page.emulate_media(reduced_motion="reduce")
    part(page, "start").click()
    heights = page.evaluate("""async () => {
      const found = new Set(), begun = performance.now();
      while (performance.now() - begun < 7000) {
        found.add(document.querySelector(".level").getAttribute("height"));
        await new Promise(requestAnimationFrame);
      }
      return [...found];
    }""")
    assert len(heights) <= 12
    page.emulate_media(reduced_motion="no-preference")


_NAMED = """() => [...document.querySelectorAll("link[rel=preload], script")].map((each) => each.href || each.src)"""
PLAIN = ("home", "the call", "lane pad 1")


def test_a_page_asks_at_once_for_its_one_script(page: Page, server: Served) -> None:
    """No page finds a script or the typeface when another part has come: what Chromium loads is what its head names."""
    for name in (*PLAIN, "practice"):
        page.goto(server.links[name], wait_until="networkidle")
        loaded = page.evaluate("() => performance.getEntriesByType('resource').map((each) => each.name)")
        named = page.evaluate(_NAMED)
        late = {url for url in loaded if url.partition("?")[0].endswith((".js", "latin-wdth-normal.woff2"))} - set(
            named
        )
        assert late <= {f"{server.base}/worker.js"}, name
        modules = [url for url in loaded if url.endswith(".js") and "/languages/" not in url and "arrive.js" not in url]
        assert [url.rpartition("/")[2] for url in modules if not url.endswith("/worker.js")] == ["joined.js"], name
        page.goto("about:blank")
