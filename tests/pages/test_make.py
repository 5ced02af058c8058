"""The competition maker in a real browser: docs/tour.md walked by form, from nothing to an overlay and a home page."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from pages.crew import faults

TOUR = (Path(__file__).parents[2] / "docs" / "tour.md").read_text(encoding="utf-8")
LATE_MS = 90_000
"""Two more servers begin meanwhile, on a machine that may be busy."""
SCENARIOS = Path(__file__).parents[2] / "scenarios"


@contextmanager
def made(path: Path) -> Iterator[str]:
    """Run `tallywire make` for a file and give the address that it prints."""
    line = [sys.executable, "-m", "tallywire", "make", str(path), "--port", "0", "--data", str(path.parent / "data")]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        process.stdout.readline()
        yield process.stdout.readline().split()[-1]
    finally:
        process.terminate()
        process.communicate(timeout=20)


def fill(page: Page, place: str, text: str) -> None:
    """Type into the field at a place of the file."""
    page.locator(f'[name="{place}"]').fill(text)


def blocks(info: str) -> str:
    """A fenced block of the tour, without the indent of the list that it stands in."""
    found = re.findall(rf"^ *```{info}\n(.*?)^ *```", TOUR, re.DOTALL | re.MULTILINE)[0]
    return re.sub(r"^ +", "", found, flags=re.MULTILINE)


def test_a_newcomer_makes_rehearses_and_runs_a_competition(browser: Browser, tmp_path: Path) -> None:
    """By form alone: table pasted, lanes dealt, saved, on an overlay as a rehearsal, and run with the same link."""
    path, page = tmp_path / "cove.toml", browser.new_page(viewport={"width": 1366, "height": 768})
    with made(path) as address:
        page.goto(address)
        expect(page.locator("[data-part=state]")).to_contain_text("to put right", timeout=LATE_MS)
        fill(page, "competition.name", "Cove Challenge")
        page.locator("[data-part=paste]").fill(blocks("csv"))
        page.get_by_role("button", name="Take 3 rows").click()
        for place, text in (("name", "Pier"), ("workout.time_cap", "3:00"), ("workout.rounds", "2")):
            fill(page, f"event[1].{place}", text)
        for number, (movement, amount) in enumerate((("Burpee over the bar", "5"), ("Box step-over", "4")), start=1):
            if number > 1:
                page.get_by_role("button", name="Add a movement").click()
            fill(page, f"event[1].workout.station[{number}].movement", movement)
            fill(page, f"event[1].workout.station[{number}].amount", amount)
        page.get_by_label("Lanes", exact=True).fill("3")
        page.get_by_role("button", name="Deal the lanes anew").click()
        expect(page.locator("[data-part=state]")).to_have_text("No problems, not saved yet", timeout=LATE_MS)
        page.get_by_role("button", name="Save", exact=True).click()
        expect(page.locator("[data-part=state]")).to_have_text("No problems, saved", timeout=LATE_MS)
        _same_competition(path)
        page.get_by_role("button", name="Rehearse it").click()
        link = page.get_by_role("link", name="On the air: heat standing")
        expect(link).to_be_visible(timeout=LATE_MS)
        with page.expect_popup() as opened:
            link.click()
        overlay = opened.value
        expect(overlay.get_by_text("Ostrovik").first).to_be_visible(timeout=LATE_MS)
        expect(overlay.get_by_text("rehearsal", exact=False).first).to_be_visible()
        overlay.close()
        page.get_by_role("button", name="Run it").click()
        page.wait_for_url("**/home/**", timeout=LATE_MS)
        expect(page.locator("[data-part=competition]")).to_have_text("Cove Challenge", timeout=LATE_MS)
        expect(page.get_by_role("link", name="Competition maker")).to_be_visible(timeout=LATE_MS)
    page.close()


def _same_competition(path: Path) -> None:
    """What the form wrote is what the tour writes by hand: the same work, entries and field, under other ids."""
    form, hand = tomllib.loads(path.read_text(encoding="utf-8")), tomllib.loads(blocks("toml"))
    assert form["event"][0]["workout"] == hand["event"][0]["workout"]
    assert [each["name"] for each in form["entry"]] == [each["name"] for each in hand["entry"]]
    assert form["heat"][0]["lanes"] == {"1": "ishaan-tolworth", "2": "runa-ostrovik", "3": "dela-marchbank"}


@pytest.fixture(name="filled", scope="module")
def _filled(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    folder = tmp_path_factory.mktemp("day")
    for name in ("saltmarsh.toml", "saltmarsh-lanes.csv"):
        (folder / name).write_bytes((SCENARIOS / name).read_bytes())
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    with made(folder / "saltmarsh.toml") as address:
        page.goto(address)
        expect(page.locator("[data-part=state]")).to_have_text("No problems, saved", timeout=LATE_MS)
        yield page
    context.close()


@pytest.mark.parametrize("size", [(1366, 768), (360, 640)], ids=str)
def test_the_page_is_without_fault(filled: Page, size: tuple[int, int]) -> None:
    """A day of forty entries: axe-core 4.10 finds nothing, and nothing is wider than the window."""
    filled.set_viewport_size({"width": size[0], "height": size[1]})
    assert faults(filled) == []
    assert filled.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_what_the_form_does_not_show_is_named(filled: Page) -> None:
    """Cuts, records and what the rundown plans are kept, and said to be."""
    expect(filled.locator("[data-part=also]")).to_contain_text("cut.after")
    expect(filled.locator("[data-part=also]")).to_contain_text("rundown.item")


def test_a_mistake_is_said_at_its_field_and_the_keyboard_gets_there(filled: Page) -> None:
    """A time cap of words: the field says so, the list below leads to it with Enter, and taking it back mends it."""
    cap = filled.locator('[name="event[1].workout.time_cap"]')
    cap.fill("soon")
    expect(cap).to_have_attribute("aria-invalid", "true")
    filled.locator("[data-part=problem-list] button").first.focus()
    filled.keyboard.press("Enter")
    expect(cap).to_be_focused()
    filled.get_by_role("button", name="Back to the file").click()
    expect(filled.locator("[data-part=state]")).to_have_text("No problems, saved", timeout=LATE_MS)
