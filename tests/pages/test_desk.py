"""The graphics desk in a real browser against a real server: accessible, inside its window, and its keys one's own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served
from e2e.show import SHOW, press, said, started
from pages.measure import settle
from pages.reuse import device, wipe

pytestmark = pytest.mark.slow

AXE = Path(__file__).parents[1] / "overlay" / "node_modules" / "axe-core" / "axe.min.js"
SIZES = ((1280, 720), (1366, 768), (1920, 1080), (1024, 768))
LONG = "Maximiliane-Konstantinopoulidou Wrzosnic"
ARABIC = "عائشة بنت عبد الرحمن المنصوري"

_INSIDE = """() => {
  const spilled = [...document.querySelectorAll("button, .name, select, input, figure, .panel")].filter((each) => {
    const box = each.getBoundingClientRect();
    const scrolls = each.closest(".lines, .outputs");
    return box.width && (box.left < -1 || box.right > innerWidth + 1 || (!scrolls && box.top < -1));
  });
  const wide = document.documentElement.scrollWidth > innerWidth + 1 ? ["the page is wider than its window"] : [];
  return [...wide, ...spilled.map((each) => each.outerHTML.slice(0, 80))];
}"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server with a started heat of two lanes with unruly names."""
    folder = tmp_path_factory.mktemp("desk")
    path = folder / "show.toml"
    path.write_text(SHOW.replace("Asta Norwood", LONG).replace("Bo Ellingsen", ARABIC), encoding="utf-8")
    with started(path, {1: 7}) as (running, _):
        yield running


@pytest.fixture(scope="module")
def laptop(browser: Browser) -> Iterator[BrowserContext]:
    """The laptop that one test after the other uses; a test may look into its pages."""
    opened = device(browser, size=(1366, 768), bypass_csp=True)
    yield opened
    opened.close()


@pytest.fixture
def context(laptop: BrowserContext, server: Served) -> Iterator[BrowserContext]:
    """A laptop with nothing on it."""
    yield laptop
    wipe(laptop, server.base)


def open_desk(context: BrowserContext, server: Served) -> Page:
    """Open the desk and wait until it has a link and its heat."""
    page = context.new_page()
    page.goto(server.links["graphics desk"])
    expect(said(page, "link")).to_have_text("Linked")
    expect(said(page, "lanes").get_by_role("button")).to_have_count(2)
    return page


def violations(page: Page) -> list[str]:
    """Give what axe-core finds in the page, its frames included."""
    page.add_script_tag(path=AXE)
    found: dict[str, Any] = page.evaluate("() => axe.run(document, { iframes: false })")
    return [f"{each['id']}: {node['html'][:120]}" for each in found["violations"] for node in each["nodes"]]


def test_the_desk_is_accessible(context: BrowserContext, server: Served) -> None:
    """axe-core 4.10 finds nothing: at rest, with something prepared that is refused, and while a key is changed."""
    page = open_desk(context, server)
    assert violations(page) == []
    said(page, "views").get_by_role("button", name="Finish card").click()
    expect(said(page, "refusal")).not_to_be_empty()
    said(page, "keys").get_by_role("button").first.click()
    assert violations(page) == []


def test_an_output_with_nothing_on_it_is_accessible(context: BrowserContext, server: Served) -> None:
    """axe-core 4.10 finds nothing: an output that is clear has a name and a landmark, as one view has."""
    for query in ("output=world", "output=world&preview", "view=heat"):
        page = context.new_page()
        page.goto(f"{server.base}/air/?{query}")
        expect(page.get_by_role("heading", level=1)).to_have_accessible_name("On air")
        # What comes up is pale only on its way.
        page.wait_for_function("() => document.getAnimations().every((each) => each.playState === 'finished')")
        assert violations(page) == [], query


def test_axe_sees_a_fault(context: BrowserContext, server: Served) -> None:
    """The measure itself: a button without a name is found."""
    page = open_desk(context, server)
    page.evaluate("() => document.body.append(document.createElement('button'))")
    assert any(each.startswith("button-name") for each in violations(page))


@pytest.mark.parametrize("size", SIZES)
def test_the_desk_stays_in_its_window(context: BrowserContext, server: Served, size: tuple[int, int]) -> None:
    """No control or name is outside the window, on any screen a desk may have and for either shape of output."""
    page = open_desk(context, server)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for _ in range(2):
        said(page, "views").get_by_role("button", name="One athlete").click()
        expect(said(page, "prepared")).to_contain_text("One athlete")
        settle(page)
        assert page.evaluate(_INSIDE) == []
        press(page, "o")
    box = said(page, "preview").bounding_box()
    assert box is not None
    assert box["width"] > 200


def test_a_key_is_changed_and_kept(context: BrowserContext, server: Served) -> None:
    """The operator's own key does it, the old one no longer, the page says so, and a reload keeps it."""
    page = open_desk(context, server)
    expect(said(page, "clear")).to_have_text("Clear c")
    said(page, "keys").get_by_role("button", name="Next in the rundown").click()
    press(page, "Enter")
    expect(said(page, "message")).to_contain_text("found Enter")
    press(page, "j")
    expect(said(page, "keys").get_by_role("button", name="Next in the rundown: j")).to_be_visible()
    page.reload()
    expect(said(page, "lanes").get_by_role("button")).to_have_count(2)
    press(page, "ArrowDown")
    expect(said(page, "prepared")).to_have_text("nothing prepared")
    press(page, "j")
    expect(said(page, "prepared")).to_have_text("The standing")
    said(page, "usual-keys").click()
    expect(said(page, "keys").get_by_role("button", name="Next in the rundown: ↓")).to_be_visible()


def test_the_space_bar_is_a_buttons_own_while_it_has_the_focus(context: BrowserContext, server: Served) -> None:
    """Someone who works with Tab presses what is focused; after a click of the mouse the space bar takes again."""
    page = open_desk(context, server)
    button = said(page, "views").get_by_role("button", name="Workout card")
    button.focus()
    press(page, " ")
    expect(said(page, "prepared")).to_have_text("Workout card")
    expect(said(page, "on-air")).to_have_text("clear")
    button.click()
    press(page, " ")
    expect(said(page, "on-air")).to_have_text("Workout card")
    press(page, "c")
    expect(said(page, "on-air")).to_have_text("clear")


def test_without_a_key_it_says_so(context: BrowserContext, server: Served) -> None:
    """A link with a wrong key shows what is missing, and takes nothing."""
    page = context.new_page()
    page.goto(f"{server.base}/desk/#key=wrong")
    expect(said(page, "link")).to_contain_text("no valid key for the desk")


def test_another_desk_takes_the_automatic_mode_over(context: BrowserContext, server: Served) -> None:
    """The automatic mode is worked by the desk that asked for it; another sees that and takes it over as it is."""
    one, two = open_desk(context, server), open_desk(context, server)
    press(one, "a")
    expect(said(one, "automatic")).to_contain_text("proposes")
    expect(said(two, "automatic-note")).to_contain_text("another desk")
    press(two, "a")
    expect(said(one, "automatic-note")).to_contain_text("another desk")
    expect(said(two, "automatic")).to_contain_text("proposes")
    two.reload()
    expect(said(two, "automatic")).to_contain_text("proposes")
    expect(said(two, "automatic-note")).to_contain_text("finish card")
    press(two, "a")
    expect(said(two, "automatic")).to_contain_text("takes by itself")
    press(two, "a")
    expect(said(two, "automatic")).to_contain_text("off")
